"""Draws from an arm that was closed while the tablet was away: nobody's mistake, and a question all the same."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from bedside.clinical.visit import Needle, replay
from bedside.records import event_log
from bedside.records.patient_facts import Known, changed_patients
from bedside.records.visit_facts import VisitFacts, facts_of
from bedside.sync.arrivals import moment
from bedside.sync.judging import case_of, placed


@dataclass(frozen=True, slots=True, kw_only=True)
class WhileAway:
    """A needle (`event`) in an arm that was closed at `closed_at` and unknown to the packet the visit began with."""

    visit: str
    event: str
    side: str
    closed_at: str
    drawn_at: str


def drawn_while_away(visits: Collection[str]) -> list[WhileAway]:
    """Every such needle of these visits. Visits to patients of whom nothing changed are not even looked at."""
    facts = facts_of(changed_patients(visits))
    events = event_log.of_visits(facts)
    return [one for visit in sorted(facts) for one in _of_visit(facts[visit], events[visit])]


def _of_visit(facts: VisitFacts, events: Iterable[event_log.Kept]) -> Iterable[WhileAway]:
    raw = placed(facts, events).raw
    if not raw:
        return
    visit = replay(case_of(facts, raw))
    carried = facts.patient.carried_when(moment(min(event.shared_ms for event in visit.events)))
    for needle in visit.needles:
        found = _closed_meanwhile(facts, needle, carried)
        if found is not None:
            yield found


def _closed_meanwhile(facts: VisitFacts, needle: Needle, carried: Known) -> WhileAway | None:
    side = needle.site.data.get("side") if needle.site else None
    if needle.came_in is None or needle.came_in.id is None or not isinstance(side, str):
        return None
    drawn_at = moment(needle.came_in.shared_ms)
    meanwhile = [one for one in facts.patient.over_time if carried.at < one.at <= drawn_at]
    if not meanwhile or _is_closed(carried, side) or not _is_closed(meanwhile[-1], side):
        return None
    closed_at = next(one.at for one in meanwhile if _is_closed(one, side))
    return WhileAway(visit=facts.id, event=needle.came_in.id, side=side, closed_at=closed_at, drawn_at=drawn_at)


def _is_closed(known: Known, side: str) -> bool:
    """Report whether this arm was closed, and no order allowed it all the same."""
    sides = {rule.get("side") for rule in known.facts["restrictions"] or ()}
    return side in sides and side not in (known.facts["permissions"] or ())
