"""Has the patient agreed? Asked before each needle."""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.events import Event
from bedside.clinical.findings import NOTE, STOP
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.spaces import is_blank
from bedside.clinical.visit import Visit

AGREED = ("yes", "presumed")


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """A needle without consent; an allergy to latex that the order or the patient tells of."""
    for needle in visit.needles:
        if needle.came_in is not None and not _has_agreed(needle.consent):
            yield Mark("consent-missing", STOP, needle.came_in)
    if visit.patient.latex_allergy:
        yield Mark("latex-allergy", NOTE)
    elif visit.answer("latex") == "yes":
        yield Mark("latex-allergy", NOTE, visit.answers["latex"])


def _has_agreed(asked: Event | None) -> bool:
    """Report whether the last answer was a yes: the patient's, presumed, or that of another person who is named."""
    if asked is None:
        return False
    answer = asked.data.get("answer")
    return answer in AGREED or (answer == "by_other" and not is_blank(asked.data.get("who")))
