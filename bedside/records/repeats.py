"""The same trouble at more than one visit of a patient: what the next person at the bed should know. Read-only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records.moments import as_text
from bedside.records.tables import Incident, Visit, VisitNow

LOOK_BACK = timedelta(days=365)
"""How far back repeats are looked for: a year (common practice, no source)."""

TWICE = 2

FAILED_MIN = 3
"""Failed needles, at whichever visits, that are worth saying (common practice, no source)."""

OUTCOMES = frozenset({"no_vein", "refused", "no_identity", "restricted", "unsafe"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """incidents, outcomes: times (the records' UTC text) by kind, where there are two visits or more. failed_needles:
    needles without blood at visits that had any, 0 below the number worth saying.
    """

    incidents: Mapping[str, tuple[str, ...]]
    outcomes: Mapping[str, tuple[str, ...]]
    failed_needles: int
    failed_visits: int


def repeats_of(patient: str, now: datetime) -> Repeats:
    """What happened to this patient at two visits or more within a year; struck incidents are left out."""
    since = as_text(now - LOOK_BACK)
    visits = [row.id for row in Visit.select(Visit.id).where(Visit.patient == patient)]
    told = list(VisitNow.select().where(VisitNow.visit << visits, VisitNow.last_at >= since).order_by(VisitNow.last_at))
    rows = Incident.select().where(Incident.visit << [row.visit_id for row in told], ~Incident.struck)
    incidents: dict[str, dict[str, str]] = defaultdict(dict)
    for row in rows.order_by(Incident.happened_at):
        incidents[row.kind].setdefault(row.visit_id, row.happened_at)
    outcomes: dict[str, dict[str, str]] = defaultdict(dict)
    for row in told:
        if row.outcome in OUTCOMES:
            outcomes[row.outcome][row.visit_id] = row.ended_at or row.last_at
    failed = [number for number in map(_failed_needles, told) if number]
    is_worth_saying = sum(failed) >= FAILED_MIN
    return Repeats(
        incidents=_twice(incidents),
        outcomes=_twice(outcomes),
        failed_needles=sum(failed) if is_worth_saying else 0,
        failed_visits=len(failed),
    )


def _twice(found: Mapping[str, Mapping[str, str]]) -> dict[str, tuple[str, ...]]:
    return {kind: tuple(at.values()) for kind, at in found.items() if len(at) >= TWICE}


def _failed_needles(row: VisitNow) -> int:
    """Needles that gave no blood: one less than were used where anything was filled."""
    is_drawn = any(tube.get("filled_at") for tube in row.tubes or ())
    return max(row.needles - (1 if is_drawn else 0), 0)
