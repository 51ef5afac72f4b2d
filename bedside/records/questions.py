"""Findings that stand, and those among them that nobody has settled yet. Read-only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from bedside.records.finding_reviews import Key, Settled, settled_of
from bedside.records.tables import FindingNow, Patient, Visit, VisitNow

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
    """A finding that nobody has settled yet, with whose it is. ended_at: None while the visit goes on."""

    patient: str
    name: str
    room: str
    bed: str
    ended_at: str | None
    found: Found


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
    settled = settled_of(visits)
    ended = {row.visit_id: row.ended_at for row in VisitNow.select().where(VisitNow.visit.in_(visits))}
    found = ((row.visit.patient, ended.get(row.visit_id), _found(row, settled)) for row in rows)
    return tuple(
        Question(patient=who.id, name=who.name, room=who.room, bed=who.bed, ended_at=ended_at, found=one)
        for who, ended_at, one in found
        if one.settled is None
    )


def findings_of(visits: Collection[str]) -> dict[str | None, list[Found]]:
    """The findings that stand about these visits, most serious first."""
    found: dict[str | None, list[Found]] = defaultdict(list)
    rows = FindingNow.select().where(FindingNow.visit.in_(visits)).order_by(FindingNow.id)
    settled = settled_of(visits)
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
