"""One visit with all that is recorded about it. Read-only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bedside.clinical.order import as_recorded, latest_corrections
from bedside.records.asked_orders import Asked, orders_for
from bedside.records.carriers import carriers_of
from bedside.records.event_log import told_by
from bedside.records.finding_reviews import Settled, settled_of
from bedside.records.questions import Found, findings_of
from bedside.records.tables import Event, Patient, Person, Tube, Visit, VisitNow
from bedside.records.told_events import counted_rows, order_of_telling, read_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One event of a visit, for its story. brought_by: under whose session it came in, where that is somebody else."""

    id: str
    kind: str
    at: str
    by: str
    tablet: str
    seq: int | None
    body: str
    received_at: str
    brought_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitStory:
    """One visit with everything that happened at it. tubes: (id, position, kind) as planned.

    settled: whatever persons said to its findings, also to those that stand no more. corrected_by: the correction that
    counts for each event that has one, by id.
    """

    visit: str
    patient: Patient
    carrier: str | None
    now: VisitNow | None
    events: tuple[Told, ...]
    findings: tuple[Found, ...]
    tubes: tuple[tuple[str, int, str], ...]
    orders: tuple[Asked, ...]
    settled: tuple[Settled, ...]
    corrected_by: Mapping[str, str]


def read_story(visit: str) -> VisitStory | None:
    """One visit with all that is recorded about it, as it happened; None when there is no such visit."""
    row = Visit.get_or_none(Visit.id == visit)
    return story_of(row) if row else None


def story_of(visit: Visit) -> VisitStory:
    tubes = Tube.select().where(Tube.visit == visit).order_by(Tube.position)
    return VisitStory(
        visit=visit.id,
        patient=visit.patient,
        carrier=carriers_of({visit.id}).get(visit.id),
        now=VisitNow.get_or_none(VisitNow.visit == visit),
        events=events_of(visit.id),
        findings=tuple(findings_of({visit.id})[visit.id]),
        tubes=tuple((tube.id, tube.position, tube.kind) for tube in tubes),
        orders=orders_for(visit.id),
        settled=tuple(settled_of({visit.id}).values()),
        corrected_by=_corrected_by(visit.id),
    )


def events_of(visit: str) -> tuple[Told, ...]:
    """The visit's events in the order they happened; those nobody can read stand last, as they arrived. What is still
    set aside is not part of the story.
    """
    rows = {row.id: row for row in counted_rows([visit])}
    read = read_rows(list(rows.values()))
    unread = sorted((row for row in rows.values() if row.id not in read), key=lambda row: (row.received_at, row.id))
    ordered = [rows[event] for event in order_of_telling(read.values())] + unread
    told, names = told_by(ordered), {person.id: person.name for person in Person.select()}
    return tuple(_told(row, told, names) for row in ordered)


def _told(row: Event, told: Mapping[str, str], names: Mapping[str, str]) -> Told:
    is_own = row.received_from_id is None or row.received_from_id == row.by
    return Told(
        id=row.id,
        kind=row.kind or "",
        at=row.at or row.received_at,
        by=names.get(row.by, row.by or "nobody named"),
        tablet=row.tablet,
        seq=row.seq,
        body=told.get(row.id, row.body),
        received_at=row.received_at,
        brought_by="" if is_own else names.get(row.received_from_id, row.received_from_id),
    )


def _corrected_by(visit: str) -> dict[str, str]:
    """The correction that counts for each corrected event of the visit, by id."""
    read = read_rows(counted_rows([visit]))
    return {event: one.id or "" for event, one in latest_corrections(as_recorded(read.values())).items()}
