"""What was serious at the bedside and is no incident: identity, wrong labels, stops that somebody went ahead with.

Read-only. The newest first; a quarter back, as the rates.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records.gone_ahead import reason_for, went_ahead
from bedside.records.moments import as_text
from bedside.records.person_names import person_name
from bedside.records.questions import Found, findings_of
from bedside.records.tables import Event, FindingNow, Patient, Visit, VisitNow, Ward

ALWAYS = frozenset(
    {
        "identity-missing",
        "identity-too-few",
        "identity-mismatch",
        "band-missing",
        "label-mismatch",
        "label-missing",
        "still-bleeding",
        "bleeding-not-checked",
        "tourniquet-left-on",
        "site-restricted",
        "consent-missing",
        "volume-over-limit",
    }
)
"""Findings of a past visit that the safety officer reads whether or not anybody went ahead by word."""

PERIOD = timedelta(weeks=13)
MOST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Serious:
    """One serious finding of a past visit, with whose it was, who did it and the reason for going ahead."""

    visit: str
    patient: str
    ward: str
    room: str
    bed: str
    by: str
    reason: str
    found: Found


def serious_findings(now: datetime) -> tuple[Serious, ...]:
    """Serious findings of visits in which a needle was used or that have ended, once each code and visit."""
    is_recent = VisitNow.last_at >= as_text(now - PERIOD)
    is_past = (VisitNow.needles > 0) | VisitNow.ended_at.is_null(False)
    visits = [row.visit_id for row in VisitNow.select(VisitNow.visit).where(is_recent & is_past)]
    asked = FindingNow.select(FindingNow.visit).where(FindingNow.severity != "note", FindingNow.visit << visits)
    found = findings_of({row.visit_id for row in asked.distinct()})
    ahead = went_ahead(list(filter(None, found)))
    rows = Visit.select(Visit, Patient, Ward).join(Patient).join(Ward).where(Visit.id << list(filter(None, found)))
    told = [
        _serious(visit, one, reason_for(one.code, one.event, ahead.get(visit.id, ())))
        for visit in rows
        for one in _once_a_code(found[visit.id])
        if one.code in ALWAYS or one.code in {each.finding for each in ahead.get(visit.id, ())}
    ]
    newest = sorted(told, key=lambda one: one.found.at or "", reverse=True)
    return tuple(newest[:MOST])


def _once_a_code(found: list[Found]) -> list[Found]:
    first: dict[str, Found] = {}
    for one in found:
        if one.severity != "note" and one.code != "it-happened":
            first.setdefault(one.code, one)
    return list(first.values())


def _serious(visit: Visit, found: Found, reason: str) -> Serious:
    event = Event.get_or_none(Event.id == found.event) if found.event else None
    now = VisitNow.get_or_none(VisitNow.visit == visit.id)
    who = visit.patient
    return Serious(
        visit=visit.id,
        patient=who.name,
        ward=who.ward.name,
        room=who.room,
        bed=who.bed,
        by=person_name(event.by if event else (now.by if now else None)),
        reason=reason,
        found=found,
    )
