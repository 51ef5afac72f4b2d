"""Ask every rule about one visit, weaken what went ahead all the same, and put the most serious first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from bedside.clinical import (
    attempts,
    consent,
    haemostasis,
    identity,
    incidents,
    labels,
    leaving,
    site,
    skin,
    tourniquet,
    tubes_drawn,
)
from bedside.clinical.case import Case
from bedside.clinical.containers import DISCARD
from bedside.clinical.durations import to_the_millisecond
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, STOP, Finding
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Needle, TubeState, Visit, replay

RULES: tuple[Callable[[Visit, Rulebook], Iterator[Mark]], ...] = (
    identity.marks,
    consent.marks,
    site.marks,
    tourniquet.marks,
    attempts.marks,
    skin.marks,
    tubes_drawn.marks,
    labels.marks,
    haemostasis.marks,
    incidents.marks,
    leaving.marks,
)

# Promise 1 has no way past: a step taken all the same does not weaken these.
NEVER_WEAKENED = ("identity-missing", "identity-too-few", "identity-mismatch", "band-missing", "label-mismatch")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a judgement says. Times in s, volumes in mL; None where there was nothing to measure."""

    stage: str
    findings: tuple[Finding, ...]
    tourniquet_longest_s: float | None
    pressure_s: float | None
    volume_ml: float
    may_end: bool

    def as_json(self) -> dict[str, Any]:
        return {
            "stage": self.stage,
            "findings": [finding.as_json() for finding in self.findings],
            "tourniquet_longest_s": self.tourniquet_longest_s,
            "pressure_s": self.pressure_s,
            "volume_ml": self.volume_ml,
            "may_end": self.may_end,
        }


def judge(case: Case, book: Rulebook) -> Verdict:
    """Judge one visit by one book; the steps to come count as if they had happened."""
    visit = replay(case)
    return Verdict(
        stage=stage(visit),
        findings=findings(visit, book),
        tourniquet_longest_s=to_the_millisecond(tourniquet.longest_s(visit, book)),
        pressure_s=to_the_millisecond(haemostasis.pressure_s(visit, book)),
        volume_ml=tubes_drawn.volume_ml(visit),
        may_end=may_end(case, book),
    )


def findings(visit: Visit, book: Rulebook) -> tuple[Finding, ...]:
    """Everything found, in the book's words: by severity, then by the book's table, then by event."""
    said = {(mark.code, mark.event_id): _finding(mark, book) for mark in _weakest_first(settled_marks(visit, book))}
    return tuple(sorted(said.values(), key=lambda finding: _order(finding, book)))


def _finding(mark: Mark, book: Rulebook) -> Finding:
    """A mark with the book's words; what went ahead all the same keeps the words of the stop it was."""
    found = book.finding(mark.code, STOP if mark.weakened else mark.severity, mark.event_id)
    return replace(found, severity=mark.severity)


def settled_marks(visit: Visit, book: Rulebook) -> list[Mark]:
    """What every rule found, after what went ahead all the same."""
    found = [mark for rule in RULES for mark in rule(visit, book)]
    ahead = visit.of_kind("went_ahead")
    return [_weakened(mark) if _is_covered(mark, ahead) else mark for mark in found]


def may_end(case: Case, book: Rulebook) -> bool:
    """Report whether the visit could end as collected now, with nothing unfinished."""
    ending = Event(id=None, kind="visit_ended", at_ms=case.now_ms, data={"outcome": "collected"}, is_next=True)
    visit = replay(case.then(ending))
    marks = settled_marks(visit, book)
    ahead = visit.of_kind("went_ahead")
    return (
        all(mark.severity is not STOP for mark in marks)
        and not visit.tourniquets_on
        and all(_needle_is_done(needle, ahead) for needle in visit.needles)
        and all(_tube_is_done(state, _gone_ahead(state, marks, ahead), book) for state in visit.tubes.values())
    )


def stage(visit: Visit) -> str:
    """One word for where the visit stands."""
    if visit.ended is not None:
        return "ended"
    if any(needle.is_in for needle in visit.needles):
        return "drawing"
    if visit.withdrawals:
        return "holding"
    return "preparing" if visit.events else "waiting"


def _needle_is_done(needle: Needle, ahead: Iterable[Event]) -> bool:
    """Out, and the last look dry (or its finding gone ahead with)."""
    if needle.came_in is None:
        return True
    gone_ahead = any(event.data["finding"] in ("still-bleeding", "bleeding-not-checked") for event in ahead)
    return needle.out is not None and (haemostasis.is_dry(needle) or gone_ahead)


def _tube_is_done(state: TubeState, gone_ahead: set[str], book: Rulebook) -> bool:
    """Discarded; or filled, mixed, read back and bagged, where what went ahead counts as done."""
    if state.tube.kind == DISCARD or state.discarded is not None:
        return True
    mixed = tubes_drawn.is_mixed(state, book) or "tube-not-mixed" in gone_ahead
    read_back = bool(state.reads) or "label-missing" in gone_ahead
    return state.filled is not None and mixed and read_back and state.bagged is not None


def _gone_ahead(state: TubeState, marks: Iterable[Mark], ahead: list[Event]) -> set[str]:
    """The codes that went ahead all the same for this tube."""
    covered = {mark.code for mark in marks if mark.tube == state.tube.id and _is_covered(mark, ahead)}
    return covered | {event.data["finding"] for event in ahead if event.data.get("tube") == state.tube.id}


def _is_covered(mark: Mark, ahead: Iterable[Event]) -> bool:
    """Report whether somebody said that this happened all the same, and why."""
    return mark.code not in NEVER_WEAKENED and any(_covers(event, mark) for event in ahead)


def _covers(ahead: Event, mark: Mark) -> bool:
    """One that names an event or a tube covers that; one that names neither, all before it and the next event."""
    data = ahead.data
    if data["finding"] != mark.code:
        return False
    if "event" in data or "tube" in data:
        by_event = "event" in data and mark.event is not None and mark.event.id == data["event"]
        return by_event or ("tube" in data and mark.tube == data["tube"])
    return mark.event is None or mark.event.place <= ahead.place + 1


def _weakened(mark: Mark) -> Mark:
    return replace(mark, severity=ASK, weakened=True) if mark.severity is STOP else mark


def _weakest_first(marks: Iterable[Mark]) -> list[Mark]:
    """So that of two marks with one code and event the more serious is the one kept."""
    return sorted(marks, key=lambda mark: -mark.severity.rank)


def _order(finding: Finding, book: Rulebook) -> tuple[int, int, bool, str]:
    return (
        finding.severity.rank,
        book.order_of_codes[finding.code],
        finding.event is None,
        finding.event or "",
    )
