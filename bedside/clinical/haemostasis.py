"""Has the bleeding stopped? Pressure, a look at the uncovered site, and the guard on the needle."""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.durations import between, until
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, NOTE, STOP
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Needle, Visit

THINNER_ANSWERS = ("yes", "unknown")


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Pressure, look and tape for each needle."""
    for withdrawal in visit.withdrawals:
        if not withdrawal.event.data.get("guard_on", False):
            yield Mark("needle-unguarded", ASK, withdrawal.event)
    for needle in visit.needles:
        yield from _pressure_short(needle, visit, book)
        yield from _not_checked(needle, visit, book)
        if needle.looks and not is_dry(needle):
            yield Mark("still-bleeding", STOP, needle.looks[-1])


def pressure_s(visit: Visit, book: Rulebook) -> float | None:
    """How long the last pressure was held, in s: until the tape, or until now; None if there was none."""
    if visit.pressure_on is None:
        return None
    if visit.taped is not None:
        return between(visit.pressure_on, visit.taped, book).shorter_s
    step = visit.events[-1]
    if step.is_next and step is not visit.pressure_on:
        return between(visit.pressure_on, step, book).shorter_s
    return until(visit.pressure_on, visit.now_ms, book).shorter_s


def is_dry(needle: Needle) -> bool:
    """Report whether the last look saw no bleeding; one that does not say is not dry."""
    return bool(needle.looks) and needle.looks[-1].data.get("bleeding") is False


def is_watched(needle: Needle, book: Rulebook) -> bool:
    """Report whether the uncovered site was watched long enough; exactly the time is enough."""
    return any(
        look.data.get("watched_s", 0) >= book.value("look_min_s")
        for look in needle.looks
        if needle.out is None or look.place > needle.out.place
    )


def needs_longer(visit: Visit, before: Event) -> bool:
    """Report whether this patient needs the longer pressure: a thinner, not knowing, or an arterial puncture."""
    if visit.patient.blood_thinner or visit.answer("blood_thinner") in THINNER_ANSWERS:
        return True
    incidents = visit.of_kind("incident_opened", "incident_noted")
    return any(one.data.get("kind") == "arterial" and one.place < before.place for one in incidents)


def _pressure_short(needle: Needle, visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Taped too soon; exactly the time is enough. No pressure at all is none."""
    taped = needle.taped
    if taped is None:
        return
    longer = needs_longer(visit, taped)
    held = between(needle.pressed, taped, book) if needle.pressed is not None else None
    if held is not None and held.parted:
        yield Mark("clock-off", NOTE, taped)
    if (held.shorter_s if held else 0) < book.value("pressure_thinner_s" if longer else "pressure_min_s"):
        yield Mark("pressure-short", NOTE if taped.after else STOP if longer else ASK, taped)


def _not_checked(needle: Needle, visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Taped, or the visit over, and nobody watched the site."""
    if is_watched(needle, book):
        return
    if needle.taped is not None:
        yield Mark("bleeding-not-checked", STOP, needle.taped)
    if visit.ended is not None and needle.came_in is not None:
        yield Mark("bleeding-not-checked", STOP, visit.ended)
