"""The rounds that are out now, each with what its packet carries."""

from __future__ import annotations

from datetime import datetime

from bedside.records.packet_rows import Carried, carried
from bedside.records.tables import Person, Round


def open_rounds(at: datetime, person: str | None = None) -> list[tuple[Round, Carried]]:
    """Every round that is out, or one person's alone, the newest first."""
    rows = Round.select(Round, Person).join(Person).where(Round.closed_at.is_null())
    mine = rows if person is None else rows.where(Round.person == person)
    return [(row, carried(row, at)) for row in mine.order_by(Round.taken_at.desc())]
