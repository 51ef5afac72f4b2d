"""Whether two names are the same name, whatever the case, the accents, the hyphens or the order of the parts."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from enum import Enum

from bedside.clinical.rulebook import LETTERS
from bedside.clinical.spaces import words

# The blocks of combining marks that are accents on letters. Vowel signs of other scripts are letters and stay.
_ACCENTS = re.compile("[\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f]")
_HYPHENS = re.compile("[\u002d\u00ad\u2010-\u2015\u2212]")
_APOSTROPHES = re.compile("[\u0060\u00b4\u02b9\u02bb\u02bc\u02bd\u2018\u2019\u201b\u2032]")
_COMMAS = re.compile("[\u002c\u060c\u3001]")


class Likeness(Enum):
    """How two names compare."""

    SAME = "same"
    PART_LEFT_OUT = "part left out"
    OTHER = "other"


def same_name(a: str, b: str) -> bool:
    """Report whether two names are equal without case, accents, strokes, hyphens, apostrophes, commas, order of parts.

    A hyphen or an apostrophe may stand for a space or for nothing. Two empty names are not equal.
    """
    return bool(_spellings(a) & _spellings(b))


def compare_names(a: str, b: str, shared_min: float) -> Likeness:
    """Compare two names; one that lacks a part is recognised when at least `shared_min` parts are shared."""
    if same_name(a, b):
        return Likeness.SAME
    pairs = [(one, other) for one in _spellings(a) for other in _spellings(b)]
    if any(_lacks_a_part(one, other, shared_min) for one, other in pairs):
        return Likeness.PART_LEFT_OUT
    return Likeness.OTHER


Spelling = tuple[str, ...]


def _spellings(name: str) -> set[Spelling]:
    """Every way to read the name: its parts in order of the alphabet; none for an empty name."""
    # Apostrophes first: one of them would be taken apart into a space and an accent.
    plain = _COMMAS.sub(" ", _plain(_APOSTROPHES.sub("'", name)))
    readings = {
        tuple(sorted(words(_HYPHENS.sub(hyphen, plain).replace("'", apostrophe))))
        for hyphen in (" ", "")
        for apostrophe in (" ", "")
    }
    return readings - {()}


def _plain(name: str) -> str:
    """The name without case and accents."""
    # Lower case twice over: taking a letter apart can bring out another capital.
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", name).lower()).lower()
    return "".join(LETTERS.get(letter, letter) for letter in _ACCENTS.sub("", apart))


def _lacks_a_part(one: Spelling, other: Spelling, shared_min: float) -> bool:
    fewer, more = sorted((one, other), key=len)
    return len(fewer) >= shared_min and len(fewer) < len(more) and not Counter(fewer) - Counter(more)
