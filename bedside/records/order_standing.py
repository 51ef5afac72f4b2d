"""What has become of an order: decided from its visits, written to `OrderNow`.

Call `restate` inside the `writing()` that changed an order, a round, or what is known of a visit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from bedside.records.projections import put_order
from bedside.records.tables import Order, Round, Visit, VisitNow, VisitOrder

TRY_AGAIN = frozenset({"away", "not_ready", "no_vein", "handed_over", "partly", "collected"})
"""Outcomes after which a missed order goes out again by itself; after the others a person decides first."""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One visit that was for the order. `row` is the visit's row of `VisitNow`, None before it began.

    is_out: it stands on a round that is still open.
    """

    visit: str
    made_at: str
    person: str | None
    is_out: bool
    row: Row | None

    @property
    def is_over(self) -> bool:
        return self.row is not None and self.row["ended_at"] is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What an order itself says: its test, and when it was cancelled or held (None: it is not)."""

    id: str
    test: str
    made_at: str
    cancelled_at: str | None
    held_at: str | None


def stand(order: Asked, attempts: Iterable[Attempt]) -> Row:
    """The order's row. Blood that was drawn counts before anything the desk decided meanwhile."""
    tried = sorted(attempts, key=lambda one: (one.made_at, one.visit))
    begun = [one for one in tried if one.row is not None]
    for attempt in begun:
        tube = drawn_tube(order.test, attempt.row or {})
        if tube and attempt.is_over:
            return _row(order, "collected", attempt, tube=tube)
    if begun and not begun[-1].is_over:
        return _row(order, "underway", begun[-1], tube=drawn_tube(order.test, begun[-1].row or {}))
    if order.cancelled_at:
        return _row(order, "cancelled", None, at=order.cancelled_at)
    if order.held_at:
        return _row(order, "held", None, at=order.held_at)
    if tried and tried[-1].row is None and tried[-1].is_out:
        return _row(order, "out", tried[-1], at=tried[-1].made_at)
    if begun:
        again = (begun[-1].row or {})["outcome"] in TRY_AGAIN
        return _row(order, "not_collected", begun[-1], may_go_out=again)
    return _row(order, "pending", None, at=order.made_at, may_go_out=True)


def drawn_tube(test: str, visit: Row) -> Row | None:
    """The first container with blood for this test that was not discarded."""
    tubes = visit.get("tubes") or []
    return next((one for one in tubes if one["filled_at"] and not one["discarded"] and test in one["tests"]), None)


def restate(orders: Collection[str]) -> None:
    """Write anew what has become of these orders."""
    for row in standings(orders):
        put_order(row)


def standings(orders: Collection[str]) -> list[Row]:
    """What has become of these orders, by their id."""
    attempts = _attempts(orders)
    rows = Order.select().where(Order.id << list(orders)).order_by(Order.id)
    return [stand(_asked(row), attempts.get(row.id, [])) for row in rows]


def every_order() -> list[str]:
    """The id of every order."""
    return [row.id for row in Order.select(Order.id).order_by(Order.id)]


def _attempts(orders: Collection[str]) -> dict[str, list[Attempt]]:
    links = (
        VisitOrder.select(VisitOrder, Visit, Round)
        .join(Visit)
        .join(Round, "LEFT OUTER JOIN")
        .where(VisitOrder.order << list(orders))
    )
    found = list(links)
    visits = [link.visit_id for link in found]
    now = {row.visit_id: dict(row.__data__) for row in VisitNow.select().where(VisitNow.visit << visits)}
    told: dict[str, list[Attempt]] = {}
    for link in found:
        visit = link.visit
        told.setdefault(link.order_id, []).append(
            Attempt(
                visit=visit.id,
                made_at=visit.made_at,
                person=visit.round.person_id if visit.round else None,
                is_out=visit.round is not None and visit.round.closed_at is None,
                row=now.get(visit.id),
            )
        )
    return told


def _asked(row: Order) -> Asked:
    return Asked(id=row.id, test=row.test, made_at=row.made_at, cancelled_at=row.cancelled_at, held_at=row.held_at)


def _row(
    order: Asked,
    state: str,
    attempt: Attempt | None,
    *,
    at: str | None = None,
    may_go_out: bool = False,
    tube: Row | None = None,
) -> Row:
    visit = (attempt.row if attempt else None) or {}
    return {
        "order": order.id,
        "state": state,
        "may_go_out": may_go_out,
        "visit": attempt.visit if attempt else None,
        "by": (visit.get("by") or attempt.person) if attempt else None,
        "at": at or visit.get("ended_at") or visit.get("last_at"),
        "outcome": visit.get("outcome"),
        "reason": visit.get("reason") or "",
        "told": visit.get("told"),
        "tube": tube["tube"] if tube else None,
        "specimen": tube["specimen"] if tube else None,
        "collected_at": tube["filled_at"] if tube else None,
    }
