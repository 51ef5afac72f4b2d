"""The house as its keeper sees it: tablets, files taken in, the newest of the audit record. Read-only."""

from __future__ import annotations

from dataclasses import dataclass

from peewee import JOIN

from bedside.records.tables import Audit, Enrolment, ImportBatch, Person, Tablet, TabletUse, Ward
from bedside.records.tablets import PINS_USED_UP


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletUsed:
    """When a tablet was taken out of use or put back (`act`: `revoked`, `restored`), by whom and why."""

    act: str
    at: str
    by: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PinsUsedUp:
    """The tenth wrong PIN wiped somebody's round from a tablet: whose, when by its clock, and when the house heard."""

    person: str
    at: str
    heard_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletSeen:
    """One tablet: who was last signed in on it, when it was last heard, how far its clock is off (ms).

    carries_until: the end of the round it carries, None without one. unsent_then: how many events it still held when it
    was handed back. pins_used_up: the latest time that ten PINs were wrong on it.
    """

    id: str
    name: str
    person: str
    first_seen_at: str
    last_seen_at: str
    top_seq: int
    skew_ms: int | None
    revoked_at: str | None
    latest_use: TabletUsed | None
    is_enrolled: bool = False
    carries_until: str | None = None
    handed_back_at: str | None = None
    unsent_then: int | None = None
    pins_used_up: PinsUsedUp | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTaken:
    """One orders file that was taken in."""

    name: str
    rows: int
    at: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """One line of the audit record, with the name behind the id where there is one."""

    seq: int
    at: str
    who: str
    action: str
    object: str
    result: str


def tablets() -> tuple[TabletSeen, ...]:
    """Every tablet, the one heard from last first."""
    rows = Tablet.select(Tablet, Person).join(Person, JOIN.LEFT_OUTER).order_by(Tablet.last_seen_at.desc())
    uses, used_up = _latest_uses(), _latest_pins_used_up()
    enrolled = {row.tablet_id: row for row in Enrolment.select()}
    return tuple(
        TabletSeen(
            id=row.id,
            name=row.name,
            person=row.person.name if row.person_id else "",
            first_seen_at=row.first_seen_at,
            last_seen_at=row.last_seen_at,
            top_seq=row.top_seq,
            skew_ms=row.skew_ms,
            revoked_at=row.revoked_at,
            latest_use=uses.get(row.id),
            is_enrolled=row.id in enrolled,
            carries_until=enrolled[row.id].carries_until if row.id in enrolled else None,
            handed_back_at=enrolled[row.id].handed_back_at if row.id in enrolled else None,
            unsent_then=enrolled[row.id].unsent_then if row.id in enrolled else None,
            pins_used_up=used_up.get(row.id),
        )
        for row in rows
    )


def _latest_uses() -> dict[str, TabletUsed]:
    rows = TabletUse.select(TabletUse, Person).join(Person, JOIN.LEFT_OUTER, on=(TabletUse.by == Person.id))
    return {
        row.tablet_id: TabletUsed(
            act=row.act, at=row.at, by=row.by.name if row.by_id else "the command line", reason=row.reason
        )
        for row in rows.order_by(TabletUse.id)
    }


def _latest_pins_used_up() -> dict[str, PinsUsedUp]:
    names = {person.id: person.name for person in Person.select(Person.id, Person.name)}
    found = {}
    for row in Audit.select().where(Audit.action == PINS_USED_UP).order_by(Audit.seq):
        at, _, person = row.result.partition(" ")
        found[row.object] = PinsUsedUp(person=names.get(person, person), at=at, heard_at=row.at)
    return found


def files_taken(most: int = 20) -> tuple[FileTaken, ...]:
    """The newest orders files."""
    rows = (
        ImportBatch.select(ImportBatch, Person)
        .join(Person, JOIN.LEFT_OUTER)
        .order_by(ImportBatch.taken_in_at.desc())
        .limit(most)
    )
    return tuple(
        FileTaken(
            name=row.file_name or "no name",
            rows=row.rows,
            at=row.taken_in_at,
            by=row.by.name if row.by_id else "the command line",
        )
        for row in rows
    )


def audit_newest(most: int = 100) -> tuple[Noted, ...]:
    """The newest lines of the audit record."""
    names = {person.id: person.name for person in Person.select(Person.id, Person.name)}
    rows = Audit.select().order_by(Audit.seq.desc()).limit(most)
    return tuple(
        Noted(
            seq=row.seq,
            at=row.at,
            who=names.get(row.who, row.who),
            action=row.action,
            object=row.object,
            result=row.result,
        )
        for row in rows
    )


def ward_names() -> dict[str, str]:
    """Every ward's name by its id."""
    return {ward.id: ward.name for ward in Ward.select().order_by(Ward.name)}
