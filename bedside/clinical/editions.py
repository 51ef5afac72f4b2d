"""Editions of the rulebook: what a site would change, whether it may, and how two editions differ."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from bedside.clinical.limits import Limit
from bedside.clinical.rulebook import Rulebook

Direction = Literal["stricter", "looser", "same"]

# The first of each pair may not stand above the second: beyond that the two contradict each other.
IN_ORDER: tuple[tuple[str, str], ...] = (
    ("tourniquet_ready_s", "tourniquet_max_s"),
    ("pressure_min_s", "pressure_thinner_s"),
    ("skin_dry_s", "skin_dry_povidone_s"),
    ("trough_before_dose_best_min", "trough_before_dose_max_min"),
    ("clot_at_least_min", "clot_at_most_min"),
    ("asap_within_min", "urgent_within_min"),
    ("digoxin_after_dose_min_h", "digoxin_after_dose_max_h"),
)


@dataclass(frozen=True, slots=True)
class Moved:
    """A limit as a site has set it, and the day since when."""

    value: float
    since: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One limit a site would change. `refusal` says why it may not, empty where it may."""

    name: str
    unit: str
    old: float | None
    new: float
    direction: Direction
    refusal: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What a site would change, and everything that stands against it."""

    changes: tuple[Change, ...]
    refusals: tuple[str, ...]

    @property
    def is_looser(self) -> bool:
        """Report whether any limit would find less than it does now."""
        return any(change.direction == "looser" for change in self.changes)

    @property
    def signatures_needed(self) -> int:
        """Stricter is one person's decision; looser is two people's."""
        return 2 if self.is_looser else 1


def propose(book: Rulebook, changes: Mapping[str, float], reason: str = "") -> Proposal:
    """Weigh changes against a book. Values are in each limit's unit; a looser one wants a reason."""
    weighed = tuple(_weighed(book, name, value) for name, value in changes.items())
    refusals = [change.refusal for change in weighed if change.refusal]
    if all(change.direction == "same" for change in weighed):
        refusals.append("Nothing would change: every value is as it is now. Enter another value.")
    if not refusals:
        refusals += _out_of_order(book, changes)
    if any(change.direction == "looser" for change in weighed) and not reason.strip():
        refusals.append("A looser limit needs a reason: whoever signs second has to know why. Write it.")
    return Proposal(changes=weighed, refusals=tuple(refusals))


def with_changes(book: Rulebook, moved: Mapping[str, Moved], edition: int) -> Rulebook:
    """The built-in book with a site's limits on it, as the site's edition of this number; its sentences follow.

    What the book does not let a site change is left as it is, so that a value signed under an older release never
    weakens a newer one.
    """
    settled = {name: _set(book.limits[name], one) for name, one in moved.items() if _may_stand(book, name, one.value)}
    return replace(book, edition=edition, limits={**book.limits, **settled})


def _may_stand(book: Rulebook, name: str, value: float) -> bool:
    return name in book.limits and not _refusal(name, book.limits[name], value)


def _set(limit: Limit, moved: Moved) -> Limit:
    """A value that is not the source's own says so; back at the source's value, the source speaks again."""
    value = int(moved.value) if float(moved.value).is_integer() else moved.value
    if value == limit.value:
        return replace(limit, since=moved.since)
    source = f"this site's choice; {limit.value:g} by {limit.source}"
    return replace(limit, value=value, since=moved.since, source=source)


def _weighed(book: Rulebook, name: str, value: float) -> Change:
    limit = book.limits.get(name)
    if limit is None:
        refusal = f"The rulebook has no limit {name}. Choose one of its limits."
        return Change(name=name, unit="", old=None, new=value, direction="same", refusal=refusal)
    return Change(
        name=name,
        unit=limit.unit,
        old=limit.value,
        new=value,
        direction=_direction(limit, value),
        refusal=_refusal(name, limit, value),
    )


def _direction(limit: Limit, value: float) -> Direction:
    if value == limit.value or limit.changeable is None:
        return "same"
    return "stricter" if (value < limit.value) == (limit.changeable.stricter == "lower") else "looser"


def _refusal(name: str, limit: Limit, value: float) -> str:
    bounds = limit.changeable
    if bounds is None:
        return f"{name} is not for a site to change: {limit.source}."
    if not math.isfinite(value):
        return f"{name}: {value} is no number. Enter one from {bounds.low:g} to {bounds.high:g}."
    if not bounds.low <= value <= bounds.high:
        allowed = f"from {bounds.low:g} to {bounds.high:g} {limit.unit}"
        return f"{name}: {value:g} is outside what a site may choose. Enter a value {allowed}."
    if not float(value).is_integer() and not limit.unit.startswith("%"):
        return f"{name}: {value:g} is not whole. Enter a whole number of {limit.unit}."
    return ""


def _out_of_order(book: Rulebook, changes: Mapping[str, float]) -> Iterator[str]:
    values = {name: limit.value for name, limit in book.limits.items()} | dict(changes)
    for less, more in IN_ORDER:
        if values[less] > values[more]:
            yield f"{less} ({values[less]:g}) would stand above {more} ({values[more]:g}). Change both together."


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that is not the same in two editions. `before` or `after` is empty where it is not there at all."""

    part: Literal["limit", "finding", "container", "first aid", "table"]
    about: str
    before: str
    after: str


def differences(old: Rulebook, new: Rulebook) -> tuple[Difference, ...]:
    """Everything in which two editions differ, in words; none for one and the same book."""
    before, after = _in_words(old), _in_words(new)
    places = dict.fromkeys((*before, *after))
    return tuple(
        Difference(part=place[0], about=place[1], before=before.get(place, ""), after=after.get(place, ""))
        for place in places
        if before.get(place) != after.get(place)
    )


_Part = Literal["limit", "finding", "container", "first aid", "table"]


def _in_words(book: Rulebook) -> dict[tuple[_Part, str], str]:
    return {(part, about): said for part, about, said in _sentences(book)}


def _sentences(book: Rulebook) -> Iterable[tuple[_Part, str, str]]:
    for name, limit in book.limits.items():
        bounds = limit.changeable
        free = (
            f"a site may choose {bounds.low:g} to {bounds.high:g}, {bounds.stricter} is stricter" if bounds else "fixed"
        )
        yield "limit", name, f"{limit.value:g} {limit.unit}, since {limit.since}, {free} ({limit.source})"
    for code, kind in book.findings.items():
        for severity, words in kind.wording.items():
            said = f"{book.filled(words.says)} {book.filled(words.do_next)} ({kind.source})"
            yield "finding", f"{code}, {severity.value}", said
        afterwards = book.afterwards(code)
        if afterwards:
            yield "finding", f"{code}, afterwards", f"{afterwards.says} {afterwards.do_next} ({kind.source})"
    for name, one in book.containers.items():
        cap = f"{one.cap} cap, {one.pattern}"
        said = f"{one.name}: group {one.group}, {one.additive}, {cap}, {one.inversions} times, {one.nominal_ml:g} mL"
        yield "container", name, f"{said} ({one.source})"
    for name, aid in book.first_aid.items():
        yield "first aid", name, f"{aid.title}: {' '.join(book.first_steps(name))} ({aid.source})"
    yield from _tables(book)


def _tables(book: Rulebook) -> Iterable[tuple[_Part, str, str]]:
    for name, rows in book.volumes.as_json().items():
        yield "table", name, str(rows)
    yield "table", "order of findings", ", ".join(book.findings)
    yield "table", "tests for alcohol", ", ".join((*book.alcohol_tests, *book.alcohol_words))
    yield "table", "letters", " ".join(f"{letter}={plain}" for letter, plain in book.letters.items())
