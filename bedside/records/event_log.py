"""The log of what happened: looked up, then added to. Nothing here can change or remove an event.

Never `INSERT OR IGNORE`: it would swallow a second event under a number already used.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from peewee import chunked

from bedside.records.tables import Answer, Event, OpenedBody, SetAside, Table

NEVER_PLACED = ("number-taken", "revoked-tablet", "not-signed")
"""Reasons that no later event can cure: only a person settles these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An event as the log holds it; `body` is what it says, also where it came sealed. `hash` is of what was sent."""

    id: str
    tablet: str
    seq: int
    body: str
    hash: str
    status: str
    visit: str | None
    received_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """The first answer an event got."""

    hash: str
    status: str
    findings: list[dict[str, Any]]


def answers_to(ids: Collection[str]) -> dict[str, Answered]:
    """The first answer to each of these events that the log holds."""
    rows = Event.select(Event, Answer).join(Answer).where(Event.id << list(ids))
    return {row.id: Answered(hash=row.hash, status=row.answer.status, findings=row.answer.findings) for row in rows}


def numbers_taken(pairs: Collection[tuple[str, int]]) -> dict[tuple[str, int], str]:
    """Who holds each of these (tablet, number) pairs: the id of the first event that came under it."""
    taken: dict[tuple[str, int], str] = {}
    for tablet in {tablet for tablet, _ in pairs}:
        numbers = [seq for name, seq in pairs if name == tablet]
        rows = Event.select(Event.id, Event.seq).where((Event.tablet == tablet) & (Event.seq << numbers))
        for row in rows.order_by(Event.received_at, Event.id):
            taken.setdefault((tablet, row.seq), row.id)
    return taken


AT_A_TIME = 500
"""Rows in one statement: SQLite takes 32,766 values."""


def add(rows: Collection[dict[str, Any]], opened: Mapping[str, str]) -> None:
    """Add events; the database itself refuses a second one under the same id.

    opened: what they say, by id, for those that came sealed and could be opened.
    """
    _insert(Event, rows)
    _insert(OpenedBody, [{"event": event, "body": body} for event, body in opened.items()])


def told_by(events: Collection[Event]) -> dict[str, str]:
    """What each of these events says: its body, or what was sealed in it. One that could not be opened is left out."""
    sealed = [row.id for row in events if row.sealed]
    opened = {row.event_id: row.body for row in OpenedBody.select().where(OpenedBody.event << sealed)}
    return {row.id: opened[row.id] if row.sealed else row.body for row in events if not row.sealed or row.id in opened}


def answer(answers: Mapping[str, Answered], at: str) -> None:
    """Keep the first answer to each event, by id."""
    rows = [
        {"event": event, "status": one.status, "findings": one.findings, "answered_at": at}
        for event, one in answers.items()
    ]
    _insert(Answer, rows)


def _insert(table: type[Table], rows: Collection[dict[str, Any]]) -> None:
    for some in chunked(rows, AT_A_TIME):
        table.insert_many(some).execute()


def of_visits(visits: Collection[str]) -> dict[str, list[Kept]]:
    """The events of several visits, by visit; a visit without events has an empty list."""
    told: dict[str, list[Kept]] = {visit: [] for visit in visits}
    for event in _kept(Event.select().where(Event.visit << list(visits))):
        told[str(event.visit)].append(event)
    return told


def _kept(rows: Iterable[Event]) -> list[Kept]:
    found = list(rows)
    told = told_by(found)
    never = SetAside.select(SetAside.event).where(
        (SetAside.reason << NEVER_PLACED) & (SetAside.event << [row.id for row in found])
    )
    out = {row.event for row in never}
    return [
        Kept(
            id=row.id,
            tablet=row.tablet,
            seq=row.seq,
            body=told[row.id],
            hash=row.hash,
            status=row.status,
            visit=row.visit,
            received_at=row.received_at,
        )
        for row in found
        if row.id not in out and row.id in told
    ]
