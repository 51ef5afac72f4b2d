"""Serious findings that are no incidents, as lines of the safety officer's register."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.clinical.rulebook import Rulebook
from bedside.records.serious import Serious
from bedside.web.times import local, shown
from bedside.web.waiting import in_words, place, settled_sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriousRow:
    """One line: what, when, whose, by whom, the reason for going ahead, and how it was settled."""

    visit: str
    severity: str
    says: str
    when: str
    patient: str
    where: str
    by: str
    reason: str
    settled: str


def serious_row(one: Serious, now: datetime, zone: ZoneInfo, book: Rulebook) -> SeriousRow:
    """The line of one serious finding."""
    says, _ = in_words(one.found, book, is_past=True)
    return SeriousRow(
        visit=one.visit,
        severity=one.found.severity,
        says=says,
        when=shown(local(one.found.at, zone), now) if one.found.at else "",
        patient=one.patient,
        where=f"ward {one.ward}, {place(one.room, one.bed)}",
        by=one.by,
        reason=one.reason,
        settled=settled_sentence(one.found.settled, now, zone) if one.found.settled else "",
    )
