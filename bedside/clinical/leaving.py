"""How does the visit end: was somebody told, what went ahead against advice, and may it end as collected?"""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.durations import skew_s
from bedside.clinical.findings import ASK, NOTE
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.spaces import is_blank
from bedside.clinical.visit import Visit

SOMEBODY_MUST_KNOW = ("refused", "no_vein", "no_identity", "restricted", "unsafe")


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """A draw that did not happen and nobody told; every step taken all the same; a tablet whose clock is off."""
    for ended in visit.of_kind("visit_ended"):
        told = ended.data.get("told", {}).get("name")
        if ended.data.get("outcome") in SOMEBODY_MUST_KNOW and is_blank(told):
            yield Mark("nobody-told", ASK, ended)
    for event in visit.of_kind("went_ahead"):
        yield Mark("it-happened", ASK, event)
    yield from _clocks_off(visit, book)


def _clocks_off(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Once a tablet: its clock and the server's part by more than the limit."""
    told: set[str] = set()
    for event in visit.events:
        if event.tablet not in told and skew_s(event) > book.value("clock_off_s"):
            told.add(event.tablet)
            yield Mark("clock-off", NOTE, event)
