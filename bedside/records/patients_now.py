"""One patient with this shift's stops and the story of each visit. Read-only."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from bedside.records.moments import as_text
from bedside.records.questions import questions
from bedside.records.repeats import Repeats, repeats_of
from bedside.records.tables import Order, Patient, Visit
from bedside.records.visit_stories import VisitStory, story_of
from bedside.records.ward_now import LOOK_BACK, Stop, recent_orders, stops_of


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientNow:
    """One patient, what is asked, and every visit of this shift."""

    patient: Patient
    stops: tuple[Stop, ...]
    stories: tuple[VisitStory, ...]
    repeats: Repeats


def read_patient(patient: str, now: datetime) -> PatientNow | None:
    """One patient with this shift's stops and the story of each visit; None when there is no such patient."""
    row = Patient.get_or_none(Patient.id == patient)
    if row is None:
        return None
    since = as_text(now - LOOK_BACK)
    stops = stops_of(recent_orders(Order.patient == patient, since))
    visits = {stop.visit for stop in stops if stop.visit}
    visits |= {one.found.visit for one in questions(Patient.id == patient) if one.found.visit}
    recent = Visit.select().where(Visit.patient == patient, Visit.made_at >= since)
    return PatientNow(
        patient=row,
        stops=tuple(stops),
        repeats=repeats_of(patient, now),
        stories=tuple(story_of(visit) for visit in _in_order(visits | {visit.id for visit in recent})),
    )


def _in_order(visits: Collection[str]) -> list[Visit]:
    return list(Visit.select().where(Visit.id.in_(visits)).order_by(Visit.made_at, Visit.position, Visit.id))
