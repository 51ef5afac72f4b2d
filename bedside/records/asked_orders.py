"""Orders as a desk reads them: what is asked, how it stands, which visits were for it. Read-only."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from peewee import JOIN

from bedside.records.person_names import person_name
from bedside.records.tables import Order, OrderNow, Visit, VisitOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One order of a stop. Times are the records' own UTC text; the window is the one that counts now.

    was_sent_again: a person sent it out again after a visit without its blood, perhaps `only_for` somebody (a name).
    """

    id: str
    number: str
    test: str
    priority: str
    due_from: str
    due_to: str
    note: str
    collect_by: str
    state: str
    outcome: str | None
    reason: str
    told: Any
    at: str | None
    by: str | None
    hold_reason: str
    cancel_reason: str
    flag_note: str
    may_go_out: bool
    was_sent_again: bool
    only_for: str

    @property
    def came_back(self) -> bool:
        """Whether it waits again after a visit that ended without its blood."""
        return self.state == "pending" and self.outcome is not None


def asked(order: Order, became: OrderNow | None) -> Asked:
    """An order with what has become of it; one the records have not judged yet is pending."""
    return Asked(
        id=order.id,
        number=order.number,
        test=order.test,
        priority=order.priority,
        due_from=(became.due_from if became else None) or order.due_from,
        due_to=(became.due_to if became else None) or order.due_to,
        note=order.note,
        collect_by=order.collect_by,
        state=became.state if became else "pending",
        outcome=became.outcome if became else None,
        reason=became.reason if became else "",
        told=became.told if became else None,
        at=became.at if became else None,
        by=became.by if became else None,
        hold_reason=order.hold_reason if order.held_at else "",
        cancel_reason=order.cancel_reason if order.cancelled_at else "",
        flag_note=order.flag_note if order.flagged_at else "",
        may_go_out=became.may_go_out if became else True,
        was_sent_again=became is not None and became.due_from is not None,
        only_for=person_name(became.only_for) if became is not None and became.only_for else "",
    )


def rows_of(orders: Collection[str]) -> list[Order]:
    """These orders' own rows."""
    return list(Order.select().where(Order.id.in_(list(orders))))


def visits_for(orders: Collection[str]) -> frozenset[str]:
    """Every visit that was for one of these orders."""
    links = VisitOrder.select(VisitOrder.visit).where(VisitOrder.order.in_(list(orders)))
    return frozenset(link.visit_id for link in links)


def visits_of(patient: str) -> frozenset[str]:
    """Every visit to this patient."""
    return frozenset(visit.id for visit in Visit.select(Visit.id).where(Visit.patient == patient))


def orders_of(patient: str) -> frozenset[str]:
    """Every order for this patient, so that a form can only change what stands on its page."""
    return frozenset(order.id for order in Order.select(Order.id).where(Order.patient == patient))


def orders_for(visit: str) -> tuple[Asked, ...]:
    query = (
        Order.select(Order, OrderNow)
        .join(VisitOrder)
        .switch(Order)
        .join(OrderNow, JOIN.LEFT_OUTER, on=(OrderNow.order == Order.id), attr="became")
        .where(VisitOrder.visit == visit)
        .order_by(Order.due_to, Order.id)
    )
    return tuple(asked(order, getattr(order, "became", None)) for order in query)
