"""Was the skin cleaned, with the right antiseptic, and has it dried?"""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.ages import is_under_months
from bedside.clinical.containers import CULTURES
from bedside.clinical.durations import between
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, NOTE
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Needle, Visit


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Cleaning, drying and antiseptic, for each needle."""
    for needle in visit.needles:
        if needle.came_in is not None:
            yield from _cleaning(needle, needle.came_in, book)
            if _antiseptic_is_wrong(needle, needle.came_in, visit, book):
                yield Mark("antiseptic-wrong", ASK, needle.came_in)


def _cleaning(needle: Needle, came_in: Event, book: Rulebook) -> Iterator[Mark]:
    """The last cleaning decides how long it dries; exactly the time is enough."""
    if not needle.cleaned:
        yield Mark("skin-not-clean", ASK, came_in)
        return
    last = needle.cleaned[-1]
    drying = between(last, came_in, book)
    if drying.parted:
        yield Mark("clock-off", NOTE, came_in)
    if drying.shorter_s < _drying_time_s(last, book):
        yield Mark("skin-not-dry", NOTE if came_in.after else ASK, came_in)


def _drying_time_s(cleaned: Event, book: Rulebook) -> float:
    povidone = cleaned.data.get("with") == "povidone_iodine"
    return book.value("skin_dry_povidone_s" if povidone else "skin_dry_s")


def _antiseptic_is_wrong(needle: Needle, came_in: Event, visit: Visit, book: Rulebook) -> bool:
    """A blood culture: chlorhexidine last (povidone-iodine for the very young). An alcohol level: no alcohol at all."""
    used = [cleaned.data.get("with") for cleaned in needle.cleaned]
    if any(state.tube.kind in CULTURES for state in needle.waiting):
        young = is_under_months(visit.patient.birth_date, came_in.at_ms, book.value("chlorhexidine_from_months"))
        if used[-1:] != ["povidone_iodine" if young else "chlorhexidine_2"]:
            return True
    tests = [test for state in needle.waiting for test in state.tube.tests]
    return "isopropyl_70" in used and any(is_alcohol_level(test, book) for test in tests)


def is_alcohol_level(test: str, book: Rulebook) -> bool:
    """Report whether a test measures alcohol, by its LOINC code or by a word in the site's own code."""
    return test in book.alcohol_tests or any(word in test.lower() for word in book.alcohol_words)
