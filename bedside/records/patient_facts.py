"""What the house knew of a patient at each moment: kept whenever it changes, so that the past is judged by the past."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bedside.records.moments import as_text
from bedside.records.tables import Packet, Patient, PatientFacts, Visit

Row = dict[str, Any]

BEFORE_ALL = ""
"""Sorts before every time: what was known before the first change that was noted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What was known from `at` (UTC text) on: the keys of a case file."""

    at: str
    facts: Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """What a visit's packets said of its patient: `packets` are the times they were made, earliest first.

    over_time: everything known of the patient, earliest first; never empty.
    """

    made_at: str
    packets: tuple[str, ...]
    over_time: tuple[Known, ...]

    def carried_when(self, began_at: str) -> Known:
        """What the packet said that a visit beginning then was begun with.

        That is the latest packet made before; the earliest where the tablet's clock says that there was none yet. A
        visit without any packet knows what was known when it was made.
        """
        before = [made for made in self.packets if made <= began_at]
        made_at = before[-1] if before else next(iter(self.packets), self.made_at)
        return self.known_at(made_at)

    def known_at(self, at: str) -> Known:
        """What was known at this time; the earliest that is known, for a time before."""
        return [one for one in self.over_time if one.at <= at][-1] if self.over_time[0].at <= at else self.over_time[0]


def facts_now(patient: Patient) -> Row:
    """What is known of a patient now, with the keys of a case file."""
    return {
        "name": patient.name,
        "birth_date": patient.birth_date,
        "record_number": patient.record_number,
        "blood_thinner": patient.blood_thinner,
        "latex_allergy": patient.latex_allergy,
        "restrictions": patient.restrictions,
        "permissions": patient.permissions,
    }


def change(patient: str, values: Mapping[str, Any], at: datetime) -> None:
    """Change what is known of a patient, and keep what was known before. Call inside `writing()`."""
    before = facts_now(Patient.get_by_id(patient))
    Patient.update(dict(values)).where(Patient.id == patient).execute()
    after = facts_now(Patient.get_by_id(patient))
    if after == before:
        return
    if not PatientFacts.select().where(PatientFacts.patient == patient).exists():
        PatientFacts.create(patient=patient, at=BEFORE_ALL, facts=before)
    PatientFacts.create(patient=patient, at=as_text(at), facts=after)


def packed(visits: Collection[str]) -> dict[str, Packed]:
    """What the packets of these visits said of their patients, by visit."""
    rows = list(Visit.select(Visit, Patient).join(Patient).where(Visit.id << list(visits)))
    packets = _packets({row.round_id for row in rows if row.round_id})
    over_time = _over_time({row.patient_id for row in rows})
    return {
        row.id: Packed(
            made_at=row.made_at,
            packets=tuple(made for made in packets.get(row.round_id, ()) if made >= row.made_at),
            over_time=over_time.get(row.patient_id) or (Known(at=BEFORE_ALL, facts=facts_now(row.patient)),),
        )
        for row in rows
    }


def changed_patients(visits: Collection[str]) -> set[str]:
    """Those of these visits whose patient's facts ever changed."""
    changed = PatientFacts.select(PatientFacts.patient)
    rows = Visit.select(Visit.id).where((Visit.id << list(visits)) & (Visit.patient << changed))
    return {row.id for row in rows}


def _packets(rounds: Collection[str]) -> dict[str, list[str]]:
    made: dict[str, list[str]] = {}
    for row in Packet.select().where(Packet.round << list(rounds)).order_by(Packet.made_at, Packet.row):
        made.setdefault(row.round_id, []).append(row.made_at)
    return made


def _over_time(patients: Collection[str]) -> dict[str, tuple[Known, ...]]:
    rows = PatientFacts.select().where(PatientFacts.patient << list(patients))
    told: dict[str, tuple[Known, ...]] = {}
    for row in rows.order_by(PatientFacts.at, PatientFacts.id):
        told[row.patient_id] = (*told.get(row.patient_id, ()), Known(at=row.at, facts=row.facts))
    return told
