"""Every draw of an order that more than one visit was for: when, by whom, from which tablet, into what. Read-only."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bedside.records.person_names import person_name
from bedside.records.tables import Event, Order, Tablet, VisitNow, VisitOrder
from bedside.records.told_events import counted_rows, read_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """One filled container of an order. `at` is the records' UTC text."""

    visit: str
    at: str
    specimen: str
    by: str
    tablet: str


def draws_of(visit: str) -> tuple[Draw, ...]:
    """The draws of every order of this visit that other visits drew, too, the earliest first."""
    orders = [link.order_id for link in VisitOrder.select().where(VisitOrder.visit == visit)]
    links = VisitOrder.select(VisitOrder, Order).join(Order).where(VisitOrder.order << orders)
    tests: dict[str, set[str]] = {}
    for link in links:
        tests.setdefault(link.visit_id, set()).add(link.order.test)
    rows = VisitNow.select().where(VisitNow.visit << list(tests))
    fills = _fills(list(tests))
    found = {
        Draw(
            visit=row.visit_id,
            at=tube["filled_at"],
            specimen=tube.get("specimen") or "",
            by=fills[row.visit_id, tube["tube"]][0],
            tablet=fills[row.visit_id, tube["tube"]][1],
        )
        for row in rows
        for tube in row.tubes or ()
        if tube.get("filled_at") and tests[row.visit_id] & set(tube["tests"]) and (row.visit_id, tube["tube"]) in fills
    }
    return tuple(sorted(found, key=lambda draw: (draw.at, draw.specimen)))


def _fills(visits: Collection[str]) -> dict[tuple[str, str], tuple[str, str]]:
    """Who filled each container of these visits, and which tablet said so."""
    rows: list[Event] = counted_rows(visits, ("tube_filled",))
    read = read_rows(rows)
    names = {row.id: row.name for row in Tablet.select()}
    return {
        (row.visit, read[row.id].data["tube"]): (person_name(row.by), names.get(row.tablet) or row.tablet)
        for row in rows
        if row.id in read
    }
