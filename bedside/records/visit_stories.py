"""One visit with all that is recorded about it. Read-only."""

from __future__ import annotations

from dataclasses import dataclass

from bedside.records.asked_orders import Asked, orders_for
from bedside.records.carriers import carriers_of
from bedside.records.event_log import told_by
from bedside.records.finding_reviews import Settled, settled_of
from bedside.records.questions import Found, findings_of
from bedside.records.tables import Event, Patient, Person, SetAside, Tube, Visit, VisitNow


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One event of a visit, for its story."""

    id: str
    kind: str
    at: str
    by: str
    tablet: str
    seq: int | None
    body: str
    received_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitStory:
    """One visit with everything that happened at it. tubes: (id, position, kind) as planned.

    settled: whatever persons said to its findings, also to those that stand no more.
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
    )


def events_of(visit: str) -> tuple[Told, ...]:
    """The visit's events by the tablets' own times; what is still set aside is not part of the story."""
    aside = SetAside.select(SetAside.event).where(SetAside.placed_at.is_null(), SetAside.event.is_null(False))
    rows = list(Event.select().where(Event.visit == visit, Event.id.not_in(aside)).order_by(Event.at, Event.seq))
    told = told_by(rows)
    names = {person.id: person.name for person in Person.select()}
    return tuple(
        Told(
            id=row.id,
            kind=row.kind or "",
            at=row.at or row.received_at,
            by=names.get(row.by, row.by or "nobody named"),
            tablet=row.tablet,
            seq=row.seq,
            body=told.get(row.id, row.body),
            received_at=row.received_at,
        )
        for row in rows
    )
