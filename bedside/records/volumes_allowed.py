"""A draw above the limit that somebody allowed, with a reason: for one patient, up to so many mL, for one shift."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records import audit
from bedside.records.blood_drawn import drawn_since
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.laboratory_tables import VolumeAllowed
from bedside.records.moments import as_text
from bedside.records.tables import Patient

ALLOWED_FOR = timedelta(hours=12)
"""How long the word counts: one shift (from memory)."""

MOST_ML = 500.0
"""More than one blood donation at once is a slip of the keyboard (from memory)."""


class NotAllowed(ValueError):
    """The draw cannot be allowed as asked; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """What was allowed: `left_ml` is what the next draw may still take; since when, by whom, and why."""

    left_ml: float
    at: str
    allowed_by: str
    reason: str


def allow(patient: str, ml: float, allowed_by: str, reason: str, *, by: str, at: datetime) -> None:
    """Allow a draw of up to so many mL.

    Raises NotAllowed without a name or a reason, for a volume that cannot be meant, for an unknown patient.
    """
    if not (math.isfinite(ml) and 0 < ml <= MOST_ML):
        raise NotAllowed(f"Write how many mL may be drawn, above 0 and at most {MOST_ML:g}. Nothing was allowed.")
    if not allowed_by.strip() or not reason.strip():
        raise NotAllowed("Write who allowed it and why: it will be read with the visit. Nothing was allowed.")
    with writing():
        if not Patient.select().where(Patient.id == patient).exists():
            raise NotAllowed("There is no such patient. Go back to the ward and choose again.")
        row = {"allowed_by": allowed_by.strip(), "reason": reason.strip(), "by": by, "at": as_text(at)}
        VolumeAllowed.insert(patient=patient, ml=ml, **row).execute()
        a_packet_changed()
        audit.write(who=by, action="draw above the limit allowed", object=patient, result=f"{ml:g} mL", at=at)


def allowed_now(patients: Collection[str], at: datetime) -> dict[str, Allowed]:
    """What is allowed to each of these patients at this moment; what was drawn since is taken off."""
    since = as_text(at - ALLOWED_FOR)
    asked = (VolumeAllowed.patient << list(patients)) & (VolumeAllowed.at >= since)
    latest = {row.patient_id: row for row in VolumeAllowed.select().where(asked).order_by(VolumeAllowed.id)}
    return {patient: _allowed(row) for patient, row in latest.items()}


def _allowed(row: VolumeAllowed) -> Allowed:
    left = max(row.ml - drawn_since(row.patient_id, row.at), 0.0)
    return Allowed(left_ml=round(left, 3), at=row.at, allowed_by=row.allowed_by, reason=row.reason)
