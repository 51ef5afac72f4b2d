"""Patients with orders that still wait, and those orders: for the pages that plan ahead of a round."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records.moments import as_text
from bedside.records.tables import Order, OrderNow, Patient, Ward

WAITING = ("pending", "out")
AHEAD = timedelta(hours=24)
BACK = timedelta(hours=24)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingPatient:
    """One patient and the orders a phlebotomist still has to draw."""

    patient: Patient
    orders: tuple[Order, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSeen:
    """One order with what became of it."""

    order: Order
    state: str
    collected_at: str | None


def waiting_patients(ward: str | None, at: datetime) -> list[WaitingPatient]:
    """Everybody of this ward (all wards: None) with orders due within a day, by room and bed."""
    is_theirs = (OrderNow.state << WAITING) & (Order.collect_by == "phlebotomist")
    rows = _orders(ward).where(is_theirs & (Order.due_from <= as_text(at + AHEAD)))
    found: dict[str, list[Order]] = {}
    people: dict[str, Patient] = {}
    for row in rows:
        people[row.patient_id] = row.patient
        found.setdefault(row.patient_id, []).append(row)
    return [WaitingPatient(patient=people[one], orders=tuple(orders)) for one, orders in found.items()]


def orders_around(ward: str | None, at: datetime) -> list[OrderSeen]:
    """Every order of this ward due from a day ago to a day ahead, whatever became of it, and older ones that wait."""
    recent = (Order.due_to >= as_text(at - BACK)) | (OrderNow.state << (*WAITING, "held", "not_collected"))
    near = recent & (Order.due_from <= as_text(at + AHEAD))
    return [
        OrderSeen(order=row, state=row.became.state, collected_at=row.became.collected_at)
        for row in _orders(ward).where(near)
    ]


def _orders(ward: str | None):  # type: ignore[no-untyped-def]  # a peewee query has no type worth writing
    rows = (
        Order.select(Order, Patient, Ward, OrderNow)
        .join(Patient)
        .join(Ward)
        .switch(Order)
        .join(OrderNow, on=(OrderNow.order == Order.id), attr="became")
        .order_by(Patient.room, Patient.bed, Patient.id, Order.due_from, Order.id)
    )
    return rows if ward is None else rows.where(Patient.ward == ward)
