"""How much blood was drawn from a patient, by whomever, on whichever tablet: every filled container counts.

Discards, culture bottles and the containers of a try that failed are blood, too. What counts is the moment a container
was filled, on the clock all tablets share.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from bedside.clinical.volume import Given
from bedside.records.moments import as_text
from bedside.records.tables import Visit, VisitNow

A_DAY = timedelta(hours=24)
EIGHT_WEEKS = timedelta(weeks=8)


@dataclass(frozen=True, slots=True)
class Drawn:
    """mL drawn from one patient in 24 h and in 8 weeks, by visit."""

    day: Mapping[str, float]
    eight_weeks: Mapping[str, float]

    def given(self, *, without: str = "") -> Given:
        """What was drawn altogether; `without` names a visit that is counted elsewhere."""
        return Given(day_ml=_sum(self.day, without), eight_weeks_ml=_sum(self.eight_weeks, without))


NOTHING = Drawn({}, {})


def drawn_from(patients: Collection[str], at: datetime) -> dict[str, Drawn]:
    """What was drawn from these patients up to `at`, by patient; one who gave nothing has no entry."""
    day_ago, weeks_ago = as_text(at - A_DAY), as_text(at - EIGHT_WEEKS)
    rows = (
        VisitNow.select(VisitNow.visit, VisitNow.tubes, Visit.id, Visit.patient)
        .join(Visit)
        .where((Visit.patient << list(patients)) & (VisitNow.last_at >= weeks_ago))
    )
    day: dict[str, dict[str, float]] = {}
    eight_weeks: dict[str, dict[str, float]] = {}
    for row in rows:
        patient, visit = row.visit.patient_id, row.visit_id
        day.setdefault(patient, {})[visit] = _filled_since(row.tubes, day_ago)
        eight_weeks.setdefault(patient, {})[visit] = _filled_since(row.tubes, weeks_ago)
    return {patient: Drawn(day[patient], eight_weeks[patient]) for patient in day}


def drawn_since(patient: str, since: str) -> float:
    """mL drawn from one patient from this moment (UTC text) on."""
    rows = VisitNow.select(VisitNow.tubes).join(Visit).where((Visit.patient == patient) & (VisitNow.last_at >= since))
    return round(sum(_filled_since(row.tubes, since) for row in rows), 6)


def _filled_since(tubes: list[dict[str, Any]], since: str) -> float:
    filled = (tube["volume_ml"] for tube in tubes if tube["filled_at"] and tube["filled_at"] >= since)
    return round(sum(filled), 6)


def _sum(by_visit: Mapping[str, float], without: str) -> float:
    return round(sum(ml for visit, ml in by_visit.items() if visit != without), 6)
