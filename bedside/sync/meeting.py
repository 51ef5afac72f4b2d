"""What can only be found where events meet the house: an order drawn twice, a clock that is off, a verdict
that
differs. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, NOTE, Finding
from bedside.clinical.rulebook import Rulebook

FOUND_ONLY_HERE = frozenset({"drawn-after-cancel", "drawn-twice", "judgement-differs"})
"""Codes a tablet cannot know: it carries the orders as they were when it left."""


LARGEST_SKEW_MS = 2.0**53
"""Beyond this a number of milliseconds is no clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """A container filled for an order: where, when (the shared clock's ms) and by which event."""

    order: str
    visit: str
    at_ms: float
    event: str
    tube: str = ""


def drawn_twice(fills: Iterable[Fill], book: Rulebook) -> dict[str, list[Finding]]:
    """For each visit that drew an order another visit had drawn before it: a finding on its first
    such fill.
    """
    firsts: dict[tuple[str, str], Fill] = {}
    for fill in sorted(fills, key=_when):
        firsts.setdefault((fill.order, fill.visit), fill)
    seen: set[str] = set()
    found: dict[str, dict[str, Finding]] = {}
    for fill in sorted(firsts.values(), key=_when):
        if fill.order in seen:
            said = book.finding("drawn-twice", ASK, fill.event)
            found.setdefault(fill.visit, {})[fill.event] = said
        seen.add(fill.order)
    return {visit: list(by_event.values()) for visit, by_event in found.items()}


def _when(fill: Fill) -> tuple[float, str, str]:
    return fill.at_ms, fill.visit, fill.event


def is_drawn_after_cancel(filled: Iterable[Iterable[str]], cancelled: frozenset[str], live: frozenset[str]) -> bool:
    """Report whether blood was drawn for cancelled orders alone.

    filled: the tests of each filled container. cancelled, live: the tests of the visit's cancelled and
    other orders.
    """
    return any(set(tests) & cancelled and not set(tests) & live for tests in filled)


def clocks_off(findings: Iterable[Finding], events: Iterable[Event], book: Rulebook) -> dict[str, Event]:
    """The findings, by event id, that say no more than that a tablet's clock parts from the server's."""
    limit_ms = book.value("clock_off_s") * 1000
    said = {one.event for one in findings if one.code == "clock-off"}
    return {event.id: event for event in events if event.id and event.id in said and abs(event.skew_ms) > limit_ms}


def clock_off(event: str, book: Rulebook) -> Finding:
    """The finding that says so, once a tablet."""
    return book.finding("clock-off", NOTE, event)


def comparable(findings: Iterable[Finding]) -> list[list[Any]]:
    """A verdict as sorted triples, without what a tablet cannot know."""
    rows = [[one.code, one.severity.value, one.event] for one in findings if one.code not in FOUND_ONLY_HERE]
    return sorted(rows, key=repr)


def differs(said: Iterable[list[Any]], judged: Iterable[list[Any]]) -> bool:
    """Report whether tablet and server found different things on the same events."""
    told = [row for row in said if row[0] not in FOUND_ONLY_HERE]
    return sorted(told, key=repr) != sorted(judged, key=repr)


def judgement_differs(book: Rulebook) -> Finding:
    """The finding that says so."""
    return book.finding("judgement-differs", ASK, None)


def skew_in(raw: Mapping[str, Any]) -> float | None:
    """The skew a body reports, where it is a number a machine can keep."""
    skew = raw.get("server_skew_ms")
    if isinstance(skew, bool) or not isinstance(skew, int | float) or not abs(skew) < LARGEST_SKEW_MS:
        return None
    return float(skew)
