"""Findings that stand, and those among them that nobody has settled yet. Read-only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bedside.records.draws_of_orders import Draw, draws_of
from bedside.records.finding_reviews import Key, Settled, settled_of
from bedside.records.gone_ahead import reason_for, went_ahead
from bedside.records.identity_decisions import CODES, in_question
from bedside.records.tables import Event, FindingNow, Patient, Person, Visit, VisitNow

SEVERITIES = ("stop", "ask", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A finding that stands, as the rules said it; `settled` is what a person said to it since."""

    code: str
    severity: str
    says: str
    do_next: str
    source: str
    event: str | None
    found_by: str
    at: str | None
    visit: str | None
    settled: Settled | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A finding that nobody has settled yet, with whose it is. ended_at: None while the visit goes on.

    is_past: the visit is over or a needle was used, so that it is too late for what the rules advise at the bedside.
    blood: containers that wait for a decision with this question. reason: why somebody went ahead all the same.
    brought_by: under whose session the event came in, where that is not the person who did it.
    """

    patient: str
    name: str
    room: str
    bed: str
    ended_at: str | None
    found: Found
    is_past: bool = False
    blood: tuple[dict[str, Any], ...] = ()
    reason: str = ""
    brought_by: str = ""
    draws: tuple[Draw, ...] = ()


def questions(which: Any) -> tuple[Question, ...]:
    """Every finding nobody has settled, however old: time alone settles nothing. Notes ask nothing."""
    rows = list(
        FindingNow.select(FindingNow, Visit, Patient)
        .join(Visit)
        .join(Patient)
        .where(which, FindingNow.severity != "note")
        .order_by(FindingNow.id)
    )
    visits = {row.visit_id for row in rows}
    settled = _settled(visits)
    asked = [(row.visit.patient, _found(row, settled)) for row in rows]
    return questions_about([(who, found) for who, found in asked if found.settled is None])


def questions_about(asked: Sequence[tuple[Patient, Found]]) -> tuple[Question, ...]:
    """These unsettled findings with what a person needs to settle them."""
    visits = {found.visit for _, found in asked if found.visit}
    told = {row.visit_id: row for row in VisitNow.select().where(VisitNow.visit << list(visits))}
    waits, ahead = in_question(visits), went_ahead(visits)
    brought = brought_by([found.event for _, found in asked if found.event])
    return tuple(
        Question(
            patient=who.id,
            name=who.name,
            room=who.room,
            bed=who.bed,
            ended_at=told[found.visit].ended_at if found.visit in told else None,
            found=found,
            is_past=found.visit in told and bool(told[found.visit].ended_at or told[found.visit].needles),
            blood=waits.get(found.visit or "", ()) if _asks_who(found) else (),
            reason=reason_for(found.code, found.event, ahead.get(found.visit or "", ())),
            brought_by=brought.get(found.event or "", ""),
            draws=draws_of(found.visit) if found.code == "drawn-twice" and found.visit else (),
        )
        for who, found in asked
    )


def brought_by(events: Collection[str]) -> dict[str, str]:
    """Under whose session each of these events came in, where that is not the person it names."""
    rows = Event.select(Event, Person).join(Person, on=(Event.received_from == Person.id))
    return {
        row.id: row.received_from.name for row in rows.where(Event.id << list(events)) if row.by != row.received_from_id
    }


def _asks_who(found: Found) -> bool:
    return found.code in CODES and found.severity == "stop"


def _settled(visits: Collection[str]) -> dict[Key, Settled]:
    """What was said to findings; one about identity is open again while blood waits that nobody decided about."""
    waits = in_question(visits)
    return {key: one for key, one in settled_of(visits).items() if not (key[1] in CODES and key[0] in waits)}


def findings_of(visits: Collection[str]) -> dict[str | None, list[Found]]:
    """The findings that stand about these visits, most serious first."""
    found: dict[str | None, list[Found]] = defaultdict(list)
    rows = FindingNow.select().where(FindingNow.visit.in_(visits)).order_by(FindingNow.id)
    settled = _settled(visits)
    for row in sorted(rows, key=lambda row: SEVERITIES.index(row.severity)):
        found[row.visit_id].append(_found(row, settled))
    return found


def _found(row: FindingNow, settled: Mapping[Key, Settled]) -> Found:
    return Found(
        code=row.code,
        severity=row.severity,
        says=row.says,
        do_next=row.do_next,
        source=row.source,
        event=row.event,
        found_by=row.found_by,
        at=row.at,
        visit=row.visit_id,
        settled=settled.get((row.visit_id, row.code, row.event)),
    )
