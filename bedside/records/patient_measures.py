"""Weight and height, entered on the ward: without a weight a child may give nothing."""

from __future__ import annotations

from datetime import datetime

from bedside.clinical.tube_request import HEIGHT_M, WEIGHT_KG
from bedside.records import audit, patient_facts
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.tables import Patient


class MeasureRefused(ValueError):
    """A measure cannot be kept; the sentence says why and what to do."""


def set_measures(patient: str, weight_kg: float, height_m: float | None, *, by: str, at: datetime) -> None:
    """Keep a patient's weight, and the height where it is given; the next packet plans with them.

    Raises MeasureRefused for an unknown patient and for what no body can have.
    """
    _within("weight", weight_kg, WEIGHT_KG, "kg")
    if height_m is not None:
        _within("height", height_m, HEIGHT_M, "m")
    with writing():
        if not Patient.select().where(Patient.id == patient).exists():
            raise MeasureRefused("There is no such patient. Go back to the ward and choose again.")
        values = {"weight_kg": weight_kg} | ({} if height_m is None else {"height_m": height_m})
        patient_facts.change(patient, values, at)
        a_packet_changed()
        audit.write(who=by, action="patient measured", object=patient, at=at)


def _within(name: str, value: float, span: tuple[float, float], unit: str) -> None:
    low, high = span
    if not low <= value <= high:
        span_words = f"write {low:g} to {high:g} {unit}"
        raise MeasureRefused(f"The {name} cannot be {value:g} {unit}: {span_words}. Nothing was kept.")
