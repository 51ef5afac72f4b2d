"""Writing the projections: the rows of one visit, order or tablet are replaced whole, in the
caller's transaction.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bedside.records.tables import ClockOff, FindingNow, Incident, OrderNow, SetAside, Table, VisitNow

Row = dict[str, Any]


def put_visit(visit: str, row: Row | None, findings: Iterable[Row], incidents: Iterable[Row]) -> None:
    """Replace what is known of a visit; without a row the visit has no events that count."""
    VisitNow.delete().where(VisitNow.visit == visit).execute()
    FindingNow.delete().where(FindingNow.visit == visit).execute()
    Incident.delete().where(Incident.visit == visit).execute()
    if row is not None:
        VisitNow.insert(row).execute()
    for finding in findings:
        FindingNow.insert(finding).execute()
    for incident in incidents:
        Incident.insert(incident).execute()


def put_order(row: Row) -> None:
    """Replace what has become of an order."""
    OrderNow.delete().where(OrderNow.order == row["order"]).execute()
    OrderNow.insert(row).execute()


def put_aside(rows: Iterable[Row], placed: Iterable[str], at: str) -> None:
    """Note the events newly set aside, and that others found their place after all."""
    for row in rows:
        known = (SetAside.event == row["event"]) & (SetAside.hash == row["hash"])
        if SetAside.select().where(known).exists():
            # It may have had its place and lost it again to a correction.
            SetAside.update(placed_at=None).where(known & SetAside.settled_at.is_null()).execute()
        else:
            SetAside.insert(row).execute()
    waiting = (SetAside.event << list(placed)) & SetAside.placed_at.is_null() & SetAside.body.is_null()
    SetAside.update(placed_at=at).where(waiting).execute()


def visits_now() -> dict[str, Row]:
    """Every visit's row, by visit."""
    return {row["visit"]: row for row in map(_row, VisitNow.select())}


def orders_now() -> dict[str, Row]:
    """Every order's row, by order."""
    return {row["order"]: row for row in map(_row, OrderNow.select())}


def findings_now() -> list[Row]:
    """Every finding, without its running number."""
    rows = [_row(row) for row in FindingNow.select()]
    return [{name: value for name, value in row.items() if name != "id"} for row in rows]


def incidents_now() -> dict[str, Row]:
    """Every incident, by id."""
    return {row["id"]: row for row in map(_row, Incident.select())}


def put_clocks(visit: str, rows: Iterable[Row]) -> set[str]:
    """Replace where a visit met a clock that was off; gives every tablet this is about, now or before."""
    before = {row.tablet for row in ClockOff.select().where(ClockOff.visit == visit)}
    ClockOff.delete().where(ClockOff.visit == visit).execute()
    told = list(rows)
    for row in told:
        ClockOff.insert(row).execute()
    return before | {row["tablet"] for row in told}


def first_clock_off(tablet: str) -> Row | None:
    """Where a tablet's clock was met off first, by the tablet's own numbers."""
    rows = ClockOff.select().where(ClockOff.tablet == tablet).order_by(ClockOff.seq, ClockOff.event)
    first = rows.first()
    return _row(first) if first else None


def put_clock_finding(tablet: str, row: Row | None) -> None:
    """Say of a tablet's clock that it is off, once, or not at all."""
    said = (FindingNow.tablet == tablet) & (FindingNow.code == "clock-off") & (FindingNow.found_by == "meeting")
    FindingNow.delete().where(said).execute()
    if row is not None:
        FindingNow.insert(row).execute()


def _row(row: Table) -> Row:
    return dict(row.__data__)
