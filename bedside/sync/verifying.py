"""Whether what the pages show is what the events say: every projection compared with its replay.
Reads only.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from bedside.records import audit, order_standing, projections
from bedside.records.soundness import body_fault, book_fault, database_fault, trigger_fault
from bedside.records.visit_facts import every_visit
from bedside.sync.standing import clock_finding, replayed

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing that was looked at; `fault` is the first thing wrong with it, None when nothing is."""

    name: str
    fault: str | None


def checks() -> Iterator[Check]:
    """Every check in turn, so that a long one can be watched."""
    yield Check(name="audit record", fault=audit.first_fault(audit.entries()))
    yield Check(name="database file and references", fault=database_fault())
    yield Check(name="bodies of events", fault=body_fault())
    yield Check(name="texts of rulebooks", fault=book_fault())
    for name, fault in projection_faults():
        yield Check(name=name, fault=fault)
    yield Check(name="triggers that refuse changes", fault=trigger_fault())


def projection_faults() -> Iterator[tuple[str, str | None]]:
    """What each projection says, compared with the replay of all events."""
    rebuilt = replayed(list(every_visit()))
    rows = {visit: one.row for visit, one in rebuilt.items() if one.row is not None}
    yield "visits", _first_difference("visit", projections.visits_now(), rows)
    incidents = {row["id"]: row for one in rebuilt.values() for row in one.judged.incidents}
    yield "incidents", _first_difference("incident", projections.incidents_now(), incidents)
    findings = [row for one in rebuilt.values() for row in one.findings]
    clocks = [row for one in rebuilt.values() for row in one.judged.clocks]
    findings += [row for row in map(clock_finding, _first_clocks(clocks)) if row]
    yield "findings", _unlike(projections.findings_now(), findings)
    orders = {row["order"]: row for row in order_standing.standings(order_standing.every_order())}
    yield "orders", _first_difference("order", projections.orders_now(), orders)


def _first_clocks(clocks: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Each tablet's first clock that was off, by number."""
    first: dict[str, dict[str, Any]] = {}
    for row in sorted(clocks, key=lambda row: (row["seq"], row["event"])):
        first.setdefault(row["tablet"], row)
    return list(first.values())


def _first_difference(what: str, kept: Mapping[str, Row], told: Mapping[str, Row]) -> str | None:
    for key in sorted({*kept, *told}):
        if key not in kept:
            return f"{what} {key} is missing: its events tell of it"
        if key not in told:
            return f"{what} {key} is shown, but no event tells of it"
        field = next((name for name in told[key] if not _equal(kept[key].get(name), told[key][name])), None)
        if field:
            return f"{what} {key}: {field} is not what its events tell"
    return None


def _unlike(kept: Iterable[Row], told: Iterable[Row]) -> str | None:
    left, right = sorted(map(_canonical, kept)), sorted(map(_canonical, told))
    if left == right:
        return None
    odd = next(row for row in [*left, *right] if left.count(row) != right.count(row))
    return f"a finding differs from the replay: {json.loads(odd)['code']}"


def _equal(a: object, b: object) -> bool:
    return _canonical(a) == _canonical(b)


def _canonical(value: object) -> str:
    return json.dumps(value, sort_keys=True, default=dict)
