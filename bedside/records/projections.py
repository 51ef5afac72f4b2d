"""Writing the projections: the rows of one visit, order or tablet are replaced whole, in the
caller's transaction.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bedside.records.tables import FindingNow, Incident, OrderNow, SetAside, Table, VisitNow

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


def visits_with_a_clock_off() -> set[str]:
    """The visits in which a tablet's clock was said to be off."""
    return {row.visit_id for row in FindingNow.select(FindingNow.visit).where(FindingNow.code == "clock-off")}


def _row(row: Table) -> Row:
    return dict(row.__data__)
