"""One visit, replayed and judged: its facts and events in, the rows that tell what is true of it
out. Pure.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from bedside.clinical.case import Case, read_case
from bedside.clinical.events import Event
from bedside.clinical.findings import Finding, Severity
from bedside.clinical.judge import Verdict, judge
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import TubeState, Visit, replay
from bedside.records.database import DatabaseTrouble
from bedside.records.event_log import Kept
from bedside.records.visit_facts import OrderFacts, TubeFacts, VisitFacts
from bedside.sync.arrivals import Arrivals, arrived_ms, moment
from bedside.sync.incidents import incidents_of
from bedside.sync.meeting import Fill, clocks_off, comparable, is_drawn_after_cancel, judgement_differs
from bedside.sync.placing import Aside, Placing, place, read_told

Row = dict[str, Any]
Books = Callable[[str | None], Rulebook]
"""Gives the rulebook of a hash; today's when the hash is unknown."""

log = logging.getLogger(__name__)

NOT_CHECKED = Finding(
    code="not-checked",
    severity=Severity.STOP,
    says="The rules could not be checked for this visit.",
    do_next="Read the visit's record yourself, and tell whoever keeps the house.",
    source="the app's own rule: a rule that breaks has not found nothing",
)
"""Said when a rule broke: what happened is kept all the same, and nobody may take silence for a verdict."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What is true of one visit. `row` is None while no event of it counts."""

    visit: str
    placing: Placing
    row: Row | None = None
    findings: tuple[Finding, ...] = ()
    incidents: tuple[Row, ...] = ()
    fills: tuple[Fill, ...] = ()
    verdict: list[list[Any]] = field(default_factory=list)
    times: Mapping[str, str] = field(default_factory=dict)
    clocks: tuple[Row, ...] = ()

    @property
    def aside(self) -> Mapping[str, Aside]:
        return self.placing.aside

    @property
    def placed(self) -> list[str]:
        return [raw["id"] for raw in self.placing.raw]


def judge_visit(facts: VisitFacts, events: Iterable[Kept], books: Books) -> Judged:
    """Place the events, replay them, judge them by the book the tablet held.

    Whatever a rule does, what happened at the bedside is kept: a rule that breaks makes the visit "not
    checked".
    """
    told = list(events)
    try:
        return _judge_visit(facts, told, books)
    except DatabaseTrouble:
        raise  # The book could not be fetched: no rule broke, and the tablet asks again.
    except Exception:
        log.exception("The rules broke on visit %s", facts.id)
        return _not_checked(facts, told, books(None))


def placed(facts: VisitFacts, events: Iterable[Kept]) -> Placing:
    """Which of these events count for the visit, and which are set aside."""
    return place(list(events), frozenset(tube.id for tube in facts.tubes), lambda raw: _fits(facts, raw))


def _judge_visit(facts: VisitFacts, events: list[Kept], books: Books) -> Judged:
    placing = placed(facts, events)
    if not placing.raw:
        return Judged(visit=facts.id, placing=placing)
    case = told_case(facts, placing.raw)
    visit = replay(case)
    held = _held(placing.raw, visit)
    book = books(held)
    verdict = judge(case, book)
    came = Arrivals.of(visit.events, _arrivals(events), book)
    off = clocks_off(verdict.findings, visit.events, book)
    kept = tuple(one for one in verdict.findings if not (one.code == "clock-off" and one.event in off))
    found = kept + ((judgement_differs(book),) if facts.differing else ())
    return Judged(
        visit=facts.id,
        placing=placing,
        row={**_row(facts, placing, visit, verdict, came), "rulebook": book.hash, "rulebook_held": held},
        findings=found,
        incidents=tuple(incidents_of(facts.id, case, visit, found, book, came)),
        fills=tuple(_fills(facts, visit, came)),
        verdict=comparable(verdict.findings),
        times={event.id: came.at(event) for event in visit.events if event.id},
        clocks=tuple(
            {"visit": facts.id, "tablet": one.tablet, "seq": one.seq, "event": one.id, "at": came.at(one)}
            for one in visit.events
            if one.id in off or one.id in came.ahead
        ),
    )


def _arrivals(events: Iterable[Kept]) -> dict[str, float]:
    told = ((event.id, arrived_ms(event.received_at)) for event in events)
    return {event: ms for event, ms in told if ms is not None}


def _not_checked(facts: VisitFacts, events: list[Kept], book: Rulebook) -> Judged:
    """A visit the rules broke on: its events are there, and a stop says that nothing was checked."""
    read = {event.id: read_told(event) for event in events}
    placing = Placing(
        raw=tuple(told[0] for told in read.values() if not isinstance(told, Aside)),
        aside={event: told for event, told in read.items() if isinstance(told, Aside)},
    )
    happened = [told[1] for told in read.values() if not isinstance(told, Aside)]
    latest = max((event.shared_ms for event in happened), default=0.0)
    row = {**EMPTY_ROW, "visit": facts.id, "stage": "not checked", "worst": Severity.STOP.value}
    row |= {"last_at": moment(latest), "events": len(happened), "rulebook": book.hash}
    return Judged(visit=facts.id, placing=placing, row=row, findings=(NOT_CHECKED,))


def told_case(facts: VisitFacts, raw: Iterable[Mapping[str, Any]]) -> Case:
    """The visit's case, knowing whether all it was for had been cancelled."""
    case = case_of(facts, raw)
    return replace(case, cancelled=True) if _is_after_cancel(facts.orders, replay(case)) else case


def case_of(facts: VisitFacts, raw: Iterable[Mapping[str, Any]]) -> Case:
    """The visit's case. `now` is the latest moment any event names, on the tablet's own clock, and the patient is what
    the packet said that the visit began with: looking back, or learning more since, does not change the past.
    """
    told = list(raw)
    happened = read_case(_bare(facts, told)).events
    named = frozenset(one["data"]["tube"] for one in told if _names_a_tube(one))
    return read_case(
        {
            "patient": facts.patient.carried_when(moment(min(event.shared_ms for event in happened))).facts,
            "needle": facts.needle,
            "limits": {"max_draw_ml": facts.max_draw_ml},
            "tubes": [_tube(tube) for tube in in_play(facts.tubes, named)],
            "events": told,
            "now": moment(max(event.at_ms for event in happened)),
        }
    )


def in_play(tubes: Iterable[TubeFacts], named: frozenset[str]) -> list[TubeFacts]:
    """The containers the visit was really drawn with.

    A withdrawn one counts when an event names it: the tablet worked by an earlier packet. Then the ones
    that took its place, and that no event names, do not.
    """
    plan = list(tubes)
    old = {test for tube in plan if tube.is_withdrawn and tube.id in named for test in tube.tests}
    return [tube for tube in plan if tube.id in named or not (tube.is_withdrawn or (old and set(tube.tests) <= old))]


def _fits(facts: VisitFacts, raw: list[Row]) -> None:
    """Raise BadInput when these events make no case."""
    if raw:
        replay(case_of(facts, raw))


def _bare(facts: VisitFacts, raw: list[Mapping[str, Any]]) -> Row:
    tubes = [_tube(tube) for tube in facts.tubes]
    patient = facts.patient.over_time[0].facts
    return {"patient": patient, "tubes": tubes, "events": raw, "now": "1970-01-01T00:00:00Z"}


def _names_a_tube(raw: Mapping[str, Any]) -> bool:
    return isinstance(raw.get("data"), dict) and isinstance(raw["data"].get("tube"), str)


def _tube(tube: TubeFacts) -> Row:
    told = {"id": tube.id, "kind": tube.kind, "specimen": tube.specimen, "nominal_ml": tube.nominal_ml}
    return {**told, "tests": list(tube.tests)}


def _is_after_cancel(orders: Iterable[OrderFacts], visit: Visit) -> bool:
    asked = list(orders)
    return is_drawn_after_cancel(
        (state.tube.tests for state in visit.tubes.values() if state.filled),
        frozenset(order.test for order in asked if order.is_cancelled),
        frozenset(order.test for order in asked if not order.is_cancelled),
    )


def _held(raw: Iterable[Mapping[str, Any]], visit: Visit) -> str | None:
    """The rulebook the tablet held when the visit began: a visit under way keeps the packet it began with."""
    by_id = {one["id"]: one.get("rulebook") for one in raw}
    held = (by_id.get(event.id or "") for event in visit.events)
    return next((one for one in held if isinstance(one, str)), None)


EMPTY_ROW: Row = {
    "arrived_at": None,
    "ended_at": None,
    "outcome": None,
    "reason": "",
    "told": None,
    "by": None,
    "needles": 0,
    "tourniquet_longest_s": None,
    "pressure_s": None,
    "volume_ml": 0.0,
    "may_end": False,
    "worst": None,
    "tubes": [],
    "rulebook_held": None,
}
"""A visit of which nothing is known yet."""


def _row(facts: VisitFacts, placing: Placing, visit: Visit, verdict: Verdict, came: Arrivals) -> Row:
    ended = visit.ended
    end = ended.data if ended else {}
    arrived = next((event for event in visit.events if event.kind == "arrived"), None)
    return {
        **EMPTY_ROW,
        "visit": facts.id,
        "stage": verdict.stage,
        "arrived_at": came.at(arrived) if arrived else None,
        "last_at": moment(max((came.ms(event) for event in visit.events), default=0.0)),
        "ended_at": came.at(ended) if ended else None,
        "outcome": end.get("outcome"),
        "reason": end.get("reason") or "",
        "told": end.get("told"),
        "by": next((event.by for event in visit.events if event.by), None),
        "needles": len(visit.needles),
        "tourniquet_longest_s": verdict.tourniquet_longest_s,
        "pressure_s": verdict.pressure_s,
        "volume_ml": verdict.volume_ml,
        "may_end": verdict.may_end,
        "events": len(placing.raw),
        "tubes": [_tube_now(state, came) for state in visit.tubes.values()],
    }


def _tube_now(state: TubeState, came: Arrivals) -> Row:
    return {
        "tube": state.tube.id,
        "kind": state.tube.kind,
        "specimen": state.tube.specimen,
        "tests": list(state.tube.tests),
        "filled_at": came.at(state.filled) if state.filled else None,
        "volume_ml": state.volume_ml,
        "read_back": bool(state.reads) and state.reads_right(state.reads[-1]),
        "bagged": state.bagged is not None,
        "discarded": state.discarded is not None,
        "handed_over": _handed_over(state.handed_over, came),
    }


def _handed_over(event: Event | None, came: Arrivals) -> Row | None:
    """When, to whom, kept how, and by whom a tube was given to the laboratory; None until it was."""
    if event is None:
        return None
    kept = list(event.data.get("kept", ()))
    return {"at": came.at(event), "to": event.data.get("to"), "kept": kept, "by": event.by}


def _fills(facts: VisitFacts, visit: Visit, came: Arrivals) -> Iterable[Fill]:
    for order in facts.orders:
        for state in visit.kept_tubes:
            if state.filled and state.filled.id and order.test in state.tube.tests:
                yield Fill(
                    order=order.id,
                    visit=facts.id,
                    at_ms=came.ms(state.filled),
                    event=state.filled.id,
                    tube=state.tube.id,
                )
