"""What an order says about its time: the dose, the infusion, the first specimen of its series, a window by hand."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from bedside.clinical.windows import Ordered
from bedside.records.laboratory_tables import OrderSeries
from bedside.records.moments import read_moment
from bedside.records.tables import Order, OrderNow, SentAgain


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """What is known beside an order's own row, for several orders at once."""

    first_at: dict[str, datetime | None]
    after_min: dict[str, int]
    by_hand: frozenset[str]

    def of(self, order: Order, timing: str) -> Ordered:
        """The order as its window is reckoned from; `timing` is the directory's word for its test."""
        return Ordered(
            timing=timing,
            priority=order.priority,
            due_from=read_moment(order.due_from),
            due_to=read_moment(order.due_to),
            dose_at=_moment(order.dose_at),
            infusion_end_at=_moment(order.infusion_end_at),
            first_at=self.first_at.get(order.id),
            after_min=self.after_min.get(order.id),
            by_hand=order.id in self.by_hand,
        )


def times_of(orders: Collection[str]) -> Times:
    """What is known of these orders' times."""
    series = list(OrderSeries.select().where(OrderSeries.order << list(orders)))
    drawn = _drawn_at({row.after_order for row in series if row.after_order})
    again = SentAgain.select(SentAgain.order).where(SentAgain.order << list(orders))
    return Times(
        first_at={row.order_id: _moment(row.after_at) or drawn.get(row.after_order) for row in series},
        after_min={row.order_id: row.after_min for row in series},
        by_hand=frozenset(row.order_id for row in again),
    )


def _drawn_at(numbers: Iterable[str]) -> dict[str, datetime]:
    """When the orders of these numbers were drawn, those that were."""
    rows = (
        OrderNow.select(OrderNow.collected_at, Order.number)
        .join(Order)
        .where((Order.number << list(numbers)) & OrderNow.collected_at.is_null(False))
    )
    return {row.order.number: read_moment(row.collected_at) for row in rows}


def _moment(text: str | None) -> datetime | None:
    return read_moment(text) if text else None
