"""Whether the database file itself is sound: its pages, its references, and the bodies of its events."""

from __future__ import annotations

import hashlib
from typing import Any

from bedside.records.database import db
from bedside.records.schema import described, refusals
from bedside.records.tables import Event, Rulebook


def database_fault(connection: Any = None) -> str | None:
    """The first thing wrong with the file or with a reference in it; None when it is sound."""
    asked = db.connection() if connection is None else connection
    told = asked.execute("PRAGMA integrity_check").fetchone()[0]
    if told != "ok":
        return f"the database file is damaged: {told}"
    loose = asked.execute("PRAGMA foreign_key_check").fetchone()
    return f"a row of the table {loose[0]} points to a row of {loose[2]} that is not there" if loose else None


def trigger_fault() -> str | None:
    """The first trigger that should refuse changes and is not there."""
    there = described()
    missing = [name for name in refusals() if name not in there]
    return f"the trigger {missing[0]} is gone: what was written once could have been changed" if missing else None


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
