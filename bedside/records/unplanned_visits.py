"""A visit no round had, which a tablet told of: a person who knows says at whose bed it was, and its records count.

The link is for good and in the audit record; the events stay exactly as they were sent.
"""

from __future__ import annotations

from datetime import datetime

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.moments import as_text
from bedside.records.tables import Event, Patient, SetAside, Visit

REASON = "unknown-visit"


class LinkRefused(ValueError):
    """The visit cannot be linked as asked; the sentence says why and what to do."""


def link(aside: int, record_number: str, note: str, *, by: str, at: datetime) -> str:
    """Say that the visit of this set-aside record was at the bed of this patient; gives the visit's id.

    Call inside `writing()` together with judging the visit anew. Raises LinkRefused for a record that waits for
    something else, an unknown record number, and without a note on how this is known.
    """
    if not note.strip():
        raise LinkRefused("Say how you know whose visit it was: whoever looks next cannot see it otherwise.")
    with writing():
        row = SetAside.get_or_none(SetAside.id == aside)
        if row is None or row.reason != REASON or row.placed_at or row.settled_at or not row.visit:
            raise LinkRefused("This record does not wait for a visit any more. Load the page again.")
        patient = Patient.get_or_none(Patient.record_number == record_number.strip())
        if patient is None:
            raise LinkRefused("No patient here has this record number. Check each digit against the band or the chart.")
        if Visit.get_or_none(Visit.id == row.visit):
            raise LinkRefused("This visit is linked already. Load the page again.")
        Visit.create(id=row.visit, round=None, patient=patient, position=1, made_at=_begun(row.visit) or as_text(at))
        audit.write(who=by, action="unplanned visit linked", object=row.visit, result=patient.id, at=at)
        _settle_all(row.visit, note.strip(), by, at)
        a_packet_changed()
    return str(row.visit)


def _begun(visit: str) -> str | None:
    """When the first record of it reached the house."""
    first = Event.select(Event.received_at).where(Event.visit == visit).order_by(Event.received_at).first()
    return first.received_at if first else None


def _settle_all(visit: str, note: str, by: str, at: datetime) -> None:
    """The records that waited for the visit are settled with the note; judging places them."""
    waiting = (SetAside.visit == visit) & (SetAside.reason == REASON) & SetAside.settled_at.is_null()
    SetAside.update(settled_at=as_text(at), settled_by=by, settled_note=note).where(waiting).execute()
