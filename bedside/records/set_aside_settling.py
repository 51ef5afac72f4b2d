"""Settling a record that found no place: a person says what became of it. The record itself stays as it is."""

from __future__ import annotations

from datetime import datetime

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.moments import as_text
from bedside.records.tables import SetAside


class SettlingRefused(ValueError):
    """The record cannot be settled as asked; the sentence says why and what to do."""


def settle(aside: int, note: str, *, by: str, at: datetime) -> None:
    """Note what became of a record that was set aside, by whom and when.

    Raises SettlingRefused without a note, for an unknown record, and for one that is settled already.
    """
    if not note.strip():
        raise SettlingRefused("Say what became of this record: whoever looks next cannot see it otherwise.")
    with writing():
        row = SetAside.get_or_none(SetAside.id == aside)
        if row is None:
            raise SettlingRefused("There is no such record. Load the page again and choose it there.")
        if row.settled_at or row.placed_at:
            raise SettlingRefused("This record is settled already. Load the page again to read how.")
        SetAside.update(settled_at=as_text(at), settled_by=by, settled_note=note.strip()).where(
            SetAside.id == aside
        ).execute()
        audit.write(who=by, action="set-aside record settled", object=row.event or str(row.id), at=at)
