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


WORDS_TO_CLOSE = 4
"""Words an action needs before it closes an incident: "ok" changes nothing (common practice, no source)."""

SHORTEST_NAME = 3
"""Characters of the name of whoever decided (common practice, no source)."""


class ReviewRefused(ValueError):
    """The review cannot be kept as asked; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What the safety officer wrote this time. Empty texts add nothing. decided_by: who decided what changes.

    second_reader, second_harm: who else read the case, and their own word for the harm (AE-17: two readers
    of this scale agree only moderately, kappa about 0.5).
    """

    cause: str = ""
    action: str = ""
    harm: str = ""
    second_reader: str = ""
    second_harm: str = ""
    note: str = ""
    decided_by: str = ""
    closes: bool = False


def review(incident: str, judgement: Judgement, *, by: str, at: datetime) -> None:
    """Add what is new in this judgement, and close the incident if asked.

    Raises ReviewRefused: unknown incident, unknown word for harm, half a second reading, nothing to add,
    closed already, or closing without saying in words what changes, and who decided it.
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
        if not case.is_closed:
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
        "decided_by": (judgement.decided_by, case.reviewed.decided_by),
        "note": (judgement.note, ""),
    }
    return [(kind, new) for kind, (new, old) in wanted.items() if new and new != old]


def _refuse_unless_sound(case: Case, judgement: Judgement, rows: list[tuple[str, str]]) -> None:
    if case.is_closed:
        raise ReviewRefused("This incident is closed. Open it again, with a reason, before adding to it.")
    for word in (judgement.harm, judgement.second_harm):
        if word and word not in HARM:
            raise ReviewRefused(f"{word!r} is no word of the harm scale. Choose one of the list.")
    if bool(judgement.second_reader) != bool(judgement.second_harm):
        raise ReviewRefused("A second reading needs both: who read the case and their own word for the harm.")
    if judgement.closes:
        _refuse_unless_decided(
            judgement.action or case.reviewed.action, judgement.decided_by or case.reviewed.decided_by
        )
    if not rows and not judgement.closes:
        raise ReviewRefused("Nothing new was written, so nothing was kept.")


def _refuse_unless_decided(action: str, decided_by: str) -> None:
    words = [word for word in action.split() if any(sign.isalpha() for sign in word)]
    if len(words) < WORDS_TO_CLOSE:
        raise ReviewRefused(
            f"Closing needs an action: say in at least {WORDS_TO_CLOSE} words what changes, so that it happens less."
        )
    if len(decided_by.strip()) < SHORTEST_NAME:
        raise ReviewRefused("Closing needs a name: say who decided what changes.")


def _add(incident: str, rows: list[tuple[str, str]], by: str, at: datetime) -> None:
    for kind, text in rows:
        IncidentReview.create(incident=incident, kind=kind, text=text, by=by, at=as_text(at))
        audit.write(who=by, action=f"incident {kind.replace('_', ' ')}", object=incident, at=at)
