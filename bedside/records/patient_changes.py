"""What a charge nurse may change about a patient: close an arm to draws, or open it again."""

from __future__ import annotations

from datetime import datetime

from bedside.records import audit, patient_facts
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.tables import Patient

SIDES = ("left", "right")
WHYS = ("fistula", "lymph_nodes", "iv", "other")


class PatientChangeRefused(ValueError):
    """The patient's record cannot be changed as asked; the sentence says why and what to do."""


def close_arm(patient: str, side: str, why: str, *, by: str, at: datetime) -> None:
    """Close an arm to draws from the next packet on.

    Raises PatientChangeRefused for an unknown patient, side or reason, and for what is closed already.
    """
    _refuse_if(side not in SIDES, "Choose the arm: left or right. Nothing was changed.")
    _refuse_if(why not in WHYS, "Choose why the arm is closed: the phlebotomist must know. Nothing was changed.")
    with writing():
        known = _patient(patient).restrictions or []
        wanted = {"side": side, "why": why}
        _refuse_if(wanted in known, f"The {side} arm is closed for this reason already. Load the page again.")
        _keep(patient, [*known, wanted], "arm closed", by, at)


def open_arm(patient: str, side: str, *, by: str, at: datetime) -> None:
    """Take every restriction of an arm away.

    Raises PatientChangeRefused for an unknown patient and for an arm that is not closed.
    """
    with writing():
        known = _patient(patient).restrictions or []
        left = [rule for rule in known if rule.get("side") != side]
        _refuse_if(len(left) == len(known), "This arm is not closed. Load the page again.")
        _keep(patient, left, "arm opened", by, at)


def _keep(patient: str, restrictions: list[dict[str, str]], action: str, by: str, at: datetime) -> None:
    patient_facts.change(patient, {"restrictions": restrictions}, at)
    a_packet_changed()
    audit.write(who=by, action=action, object=patient, at=at)


def _patient(patient: str) -> Patient:
    row = Patient.get_or_none(Patient.id == patient)
    if row is None:
        raise PatientChangeRefused("There is no such patient. Go back to the ward and choose again.")
    return row


def _refuse_if(is_so: bool, says: str) -> None:
    if is_so:
        raise PatientChangeRefused(says)
