"""Rebuilding what is known of visits, orders and tablets from the events, in the caller's transaction."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bedside.clinical.findings import Finding
from bedside.records import event_log, identity_decisions, order_standing, projections
from bedside.records.database import writing
from bedside.records.moments import as_text
from bedside.records.visit_facts import every_visit, facts_of, orders_of, sharing_an_order
from bedside.sync.books import book_in_force, book_of, keep_book
from bedside.sync.judging import Judged, judge_visit
from bedside.sync.meeting import Fill, clock_off, drawn_twice
from bedside.sync.placing import Aside

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """What a visit's rows are to be."""

    judged: Judged
    found: tuple[tuple[Finding, str], ...]

    @property
    def row(self) -> Row | None:
        if self.judged.row is None:
            return None
        ranks = sorted((one.severity for one, _ in self.found), key=lambda severity: severity.rank)
        worst = ranks[0].value if ranks else self.judged.row["worst"]
        return {**self.judged.row, "worst": worst}

    @property
    def findings(self) -> list[Row]:
        return [_finding(self.judged, one, found_by) for one, found_by in self.found]


def rebuild_visits(visits: Collection[str], at: str) -> dict[str, Judged]:
    """Write anew what is known of these visits, of those sharing an order with them, and of all
    their orders.
    """
    touched = sharing_an_order(visits)
    rebuilt = replayed(touched)
    kept = event_log.of_visits(rebuilt)
    tablets: set[str] = set()
    for visit, one in rebuilt.items():
        projections.put_visit(visit, one.row, one.findings, one.judged.incidents)
        hashes = {event.id: event for event in kept[visit]}
        rows = [_aside(hashes[event], aside, at) for event, aside in one.judged.aside.items()]
        projections.put_aside(rows, one.judged.placed, at)
        tablets |= projections.put_clocks(visit, one.judged.clocks)
    for tablet in sorted(tablets):
        projections.put_clock_finding(tablet, clock_finding(projections.first_clock_off(tablet)))
    order_standing.restate(orders_of(touched))
    return {visit: one.judged for visit, one in rebuilt.items()}


def replayed(visits: Collection[str]) -> dict[str, Rebuilt]:
    """What is true of these visits by their events. They must be closed under sharing an order."""
    facts, events = facts_of(visits), event_log.of_visits(visits)
    judged = {visit: judge_visit(facts[visit], events[visit], book_of) for visit in sorted(facts)}
    gone = identity_decisions.discarded(visits)
    fills: list[Fill] = [fill for one in judged.values() for fill in one.fills if fill.tube not in gone]
    twice = drawn_twice(fills, book_in_force())
    return {
        visit: Rebuilt(
            judged=one,
            found=(
                *((finding, "judge") for finding in one.findings),
                *((finding, "meeting") for finding in twice.get(visit, [])),
            ),
        )
        for visit, one in judged.items()
    }


def rebuild_all(at: str) -> None:
    """Write anew everything that is known of every visit, order and tablet: after the rules of the
    house changed.
    """
    rebuild_visits(list(every_visit()), at)
    order_standing.restate(order_standing.every_order())


def catch_up(at: datetime) -> None:
    """Judge everything again when another rulebook is in force than when everything was judged last."""
    with writing():
        if keep_book(at):
            rebuild_all(as_text(at))


def clock_finding(first: Row | None) -> Row | None:
    """The row that says once of a tablet that its clock is off; None when it never was."""
    if first is None:
        return None
    said = clock_off(first["event"], book_in_force()).as_json()
    about = {name: first[name] for name in ("visit", "tablet", "at")}
    return {**said, **about, "found_by": "meeting"}


def _finding(judged: Judged, finding: Finding, found_by: str) -> Row:
    at = judged.times.get(finding.event or "") or (judged.row or {}).get("last_at")
    return {**finding.as_json(), "visit": judged.visit, "tablet": None, "found_by": found_by, "at": at}


def _aside(event: event_log.Kept, aside: Aside, at: str) -> Row:
    return {
        "event": event.id,
        "tablet": event.tablet,
        "seq": event.seq,
        "hash": event.hash,
        "reason": aside.reason,
        "says": aside.says,
        "visit": event.visit,
        "received_at": at,
    }
