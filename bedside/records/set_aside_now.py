"""Records that found no place, as a desk reads them. Read-only."""

from __future__ import annotations

from dataclasses import dataclass

from peewee import JOIN

from bedside.records.event_log import told_by
from bedside.records.person_names import person_name
from bedside.records.tables import Event, Person, SetAside


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """A record that could not be placed, until a person settles it."""

    id: int
    says: str
    reason: str
    tablet: str | None
    seq: int | None
    visit: str | None
    received_at: str
    body: str | None
    kind: str | None
    at: str | None
    by: str | None
    settled_at: str | None
    settled_by: str | None
    settled_note: str


def count_unplaced() -> int:
    """How many records wait for a person because they found no place."""
    count: int = SetAside.select().where(SetAside.settled_at.is_null(), SetAside.placed_at.is_null()).count()
    return count


def set_aside() -> tuple[Aside, ...]:
    """Every record that could not be placed: the unsettled first, each with the newest first."""
    rows = list(
        SetAside.select(SetAside, Person)
        .join(Person, JOIN.LEFT_OUTER, on=(SetAside.settled_by == Person.id))
        .where(SetAside.placed_at.is_null())
        .order_by(SetAside.settled_at.is_null(False), SetAside.received_at.desc())
    )
    named = [row.event for row in rows if row.event]
    events = {event.id: event for event in Event.select().where(Event.id.in_(named))}
    told = told_by(list(events.values()))
    return tuple(_aside(row, events.get(row.event), told.get(row.event)) for row in rows)


def _aside(row: SetAside, event: Event | None, told: str | None) -> Aside:
    return Aside(
        id=row.id,
        says=row.says,
        reason=row.reason,
        tablet=row.tablet,
        seq=row.seq,
        visit=row.visit,
        received_at=row.received_at,
        body=row.body or told or (event.body if event else None),
        kind=event.kind if event else None,
        at=event.at if event else None,
        by=person_name(event.by) if event else None,
        settled_at=row.settled_at,
        settled_by=row.settled_by.name if row.settled_by_id else None,
        settled_note=row.settled_note,
    )
