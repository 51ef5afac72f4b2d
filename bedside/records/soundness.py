"""Whether the database file itself is sound: its pages, its references, and the bodies of its events."""

from __future__ import annotations

import hashlib
from typing import Any

from bedside.records.catalog import loose_reference
from bedside.records.database import db, on_postgres
from bedside.records.dialect import in_postgres
from bedside.records.schema import described, refusals
from bedside.records.tables import Event, Rulebook


def database_fault(connection: Any = None) -> str | None:
    """The first thing wrong with the file or with a reference in it; None when it is sound.

    On PostgreSQL references alone are looked at: its files are the server's to check (`initdb --data-checksums`).
    """
    if connection is None and on_postgres():
        return _loose_in_postgres()
    asked = db.connection() if connection is None else connection
    told = asked.execute("PRAGMA integrity_check").fetchone()[0]
    if told != "ok":
        return f"the database file is damaged: {told}"
    loose = asked.execute("PRAGMA foreign_key_check").fetchone()
    return f"a row of the table {loose[0]} points to a row of {loose[2]} that is not there" if loose else None


def _loose_in_postgres() -> str | None:
    loose = loose_reference()
    if loose is None:
        return None
    return f"a row of the table {loose.table} points to a row of {loose.to_table} that is not there"


def trigger_fault() -> str | None:
    """The first trigger that should refuse changes and is not there."""
    there = described()
    wanted = [one for name, statement in refusals().items() for one in _triggers(name, statement)]
    missing = [name for name in wanted if name not in there]
    return f"the trigger {missing[0]} is gone: what was written once could have been changed" if missing else None


def _triggers(name: str, statement: str) -> list[str]:
    """The names under which a refusal stands in this engine: PostgreSQL has one more, against TRUNCATE."""
    if not on_postgres():
        return [name]
    return [said.split('"')[1] for said in in_postgres(statement) if said.startswith("CREATE TRIGGER")]


def body_fault() -> str | None:
    """The first event whose body is not the one that was hashed on arrival."""
    for row in Event.select(Event.id, Event.body, Event.hash).order_by(Event.id).iterator():
        if "sha256:" + hashlib.sha256(row.body.encode()).hexdigest() != row.hash:
            return f"the body of event {row.id} is not the one that arrived"
    return None


def book_fault() -> str | None:
    """The first rulebook whose text is not the one that was published."""
    for row in Rulebook.select().order_by(Rulebook.published_at, Rulebook.hash):
        if row.hash != "sha256:" + hashlib.sha256(row.text.encode()).hexdigest():
            return f"the rulebook {row.hash} was changed after it was published: visits judged by it cannot be trusted"
    return None
