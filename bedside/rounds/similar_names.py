"""Names that are easily taken for one another: same surname, a slip of the pen apart, or sounding alike.
Pure.

Practice asks for an alert on patients with similar names on a ward (common practice, no source for the
measure); the distances below are from memory and deliberately err on the side of an alert.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import jellyfish

LONG_NAME = 5
"""Letters from which on two slips, not one, still make a similar surname."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """Somebody with a name; `key` is whatever the caller knows them by."""

    key: str
    family: str
    given: str


def alike_pairs(people: Iterable[Named]) -> dict[str, tuple[str, ...]]:
    """For each key, the keys of everybody with a similar name, sorted; empty where nobody has."""
    everybody = list(people)
    found: dict[str, set[str]] = {one.key: set() for one in everybody}
    for a, b in combinations(everybody, 2):
        if a.key != b.key and are_alike(a, b):
            found[a.key].add(b.key)
            found[b.key].add(a.key)
    return {key: tuple(sorted(others)) for key, others in found.items()}


def are_alike(a: Named, b: Named) -> bool:
    """Report whether two names could be mixed up when read or heard in a hurry."""
    families, givens = (plain(a.family), plain(b.family)), (plain(a.given), plain(b.given))
    if families[0] == families[1] or _look_alike(*families) or _sound_alike(*families):
        return True
    # Family and given name entered the wrong way round.
    return families == givens[::-1] and all(families)


def plain(name: str) -> str:
    """A name without case, accents, hyphens, apostrophes and spaces."""
    decomposed = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in decomposed if letter.isalpha())


def _look_alike(a: str, b: str) -> bool:
    shorter = min(len(a), len(b))
    slips = 2 if shorter >= LONG_NAME else 1
    # One slip in a name of one letter (李, 王) is another name.
    return shorter > 1 and jellyfish.damerau_levenshtein_distance(a, b) <= slips


def _sound_alike(a: str, b: str) -> bool:
    sounds = jellyfish.metaphone(a), jellyfish.metaphone(b)
    return bool(sounds[0]) and sounds[0] == sounds[1]
