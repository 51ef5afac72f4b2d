"""Reviewing an incident: rows are added, never changed; closing needs an action, reopening a reason."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.incidents import Case, find_case
from bedside.records.moments import as_text
from bedside.records.tables import IncidentReview

# AE-15: AHRQ Common Formats harm scale v1.2 (LOINC 74560-4, answer list LL2819-2), secondary source.
HARM = {
    "death": "Death",
    "severe": "Severe harm",
    "moderate": "Moderate harm",
    "mild": "Mild harm",
    "none": "No harm",
    "unknown": "Unknown",
}
"""The scale's words, most serious first. AE-18: in doubt between two, take the higher."""

HARM_SAYS = {
    "death": "",
    "severe": "interferes significantly with function or quality of life",
    "moderate": "",
    "mild": "minimal symptoms, or only extra treatment, monitoring or stay",
    "none": "reached the patient without harm",
    "unknown": "",
}


class ReviewRefused(ValueError):
    """The review cannot be kept as asked; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What the safety officer wrote this time. Empty texts add nothing.

    second_reader, second_harm: who else read the case, and their own word for the harm (AE-17: two readers
    of this scale agree only moderately, kappa about 0.5).
    """

    cause: str = ""
    action: str = ""
    harm: str = ""
    second_reader: str = ""
    second_harm: str = ""
    note: str = ""
    closes: bool = False


def review(incident: str, judgement: Judgement, *, by: str, at: datetime) -> None:
    """Add what is new in this judgement, and close the incident if asked.

    Raises ReviewRefused: unknown incident, unknown word for harm, half a second reading, nothing to add,
    closed already, or closing without an action.
    """
    with writing():
        case = _known(incident)
        rows = _new_rows(case, judgement)
        _refuse_unless_sound(case, judgement, rows)
        if judgement.closes:
            rows.append(("closed", judgement.action or case.reviewed.action))
        _add(incident, rows, by, at)


def reopen(incident: str, reason: str, *, by: str, at: datetime) -> None:
    """Open a closed incident again.

    Raises ReviewRefused when it is not closed or no reason is given.
    """
    with writing():
        case = _known(incident)
        if not case.reviewed.is_closed:
            raise ReviewRefused("This incident is open already. Add to its review instead.")
        if not reason.strip():
            raise ReviewRefused("Say why it is opened again: whoever closed it will ask.")
        _add(incident, [("reopened", reason.strip())], by, at)


def _known(incident: str) -> Case:
    case = find_case(incident)
    if case is None:
        raise ReviewRefused("There is no such incident. Go back to the register and choose it again.")
    return case


def _new_rows(case: Case, judgement: Judgement) -> list[tuple[str, str]]:
    """Only what differs from the latest row of its kind: saving twice adds nothing."""
    second = ""
    if judgement.second_reader and judgement.second_harm:
        second = f"{judgement.second_reader}: {judgement.second_harm}"
    wanted = {
        "cause": (judgement.cause, case.reviewed.cause),
        "action": (judgement.action, case.reviewed.action),
        "harm": (judgement.harm, case.reviewed.harm),
        "second_reading": (second, case.reviewed.second_reading),
        "note": (judgement.note, ""),
    }
    return [(kind, new) for kind, (new, old) in wanted.items() if new and new != old]


def _refuse_unless_sound(case: Case, judgement: Judgement, rows: list[tuple[str, str]]) -> None:
    if case.reviewed.is_closed:
        raise ReviewRefused("This incident is closed. Open it again, with a reason, before adding to it.")
    for word in (judgement.harm, judgement.second_harm):
        if word and word not in HARM:
            raise ReviewRefused(f"{word!r} is no word of the harm scale. Choose one of the list.")
    if bool(judgement.second_reader) != bool(judgement.second_harm):
        raise ReviewRefused("A second reading needs both: who read the case and their own word for the harm.")
    if judgement.closes and not (judgement.action or case.reviewed.action):
        raise ReviewRefused("Closing needs an action: what was done so that it happens less. Write it first.")
    if not rows and not judgement.closes:
        raise ReviewRefused("Nothing new was written, so nothing was kept.")


def _add(incident: str, rows: list[tuple[str, str]], by: str, at: datetime) -> None:
    for kind, text in rows:
        IncidentReview.create(incident=incident, kind=kind, text=text, by=by, at=as_text(at))
        audit.write(who=by, action=f"incident {kind.replace('_', ' ')}", object=incident, at=at)
