"""Rounds as rows: what waits for somebody to take it out, what stands on an open round, and its changes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from peewee import fn

from bedside.labels.barcode import specimen_number
from bedside.records.house import house
from bedside.records.identifiers import new_id
from bedside.records.moments import as_text
from bedside.records.tables import (
    House,
    Order,
    OrderNow,
    Packet,
    Patient,
    Person,
    Round,
    SpecimenNumber,
    Tube,
    Visit,
    VisitNow,
    VisitOrder,
    Ward,
)

PLANNED = ("kind", "nominal_ml", "draw_ml", "tests", "position", "inversions", "handling", "in_lab_by")
"""The columns of a container that its plan decides."""


SPARES_AN_HOUR = 100
"""Spare numbers one round draws in an hour: ten tablets' worth, or ten tubes used up on each (common practice, no
source).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeOut:
    """A container of an unfinished plan; `values` are its columns as the plan wrote them."""

    id: str
    kind: str
    tests: tuple[str, ...]
    values: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitOut:
    """A visit of an open round: the orders that are still wanted, the containers still planned."""

    id: str
    patient: Patient
    position: int
    orders: tuple[Order, ...]
    tubes: tuple[TubeOut, ...]
    needle: str
    max_draw_ml: float | None
    plan_findings: list[dict[str, Any]]
    has_begun: bool


def open_round(person: str) -> Round | None:
    """The round this person has out, if any."""
    return Round.get_or_none((Round.person == person) & Round.closed_at.is_null())


def start_round(person: str, ward: str | None, name: str, at: datetime) -> Round:
    """Open a round for somebody."""
    return Round.create(id=new_id("r"), name=name, person=person, ward=ward, taken_at=as_text(at))


def close_round(round_id: str, at: datetime) -> set[str]:
    """Close a round; gives the orders on it, whose standing has to be written anew."""
    Round.update(closed_at=as_text(at)).where(Round.id == round_id).execute()
    visits = [row.id for row in Visit.select(Visit.id).where(Visit.round == round_id)]
    return {row.order_id for row in VisitOrder.select().where(VisitOrder.visit << visits)}


def waiting_orders(ward: str | None, until: datetime) -> list[tuple[Order, OrderNow | None]]:
    """Orders a phlebotomist may take out now, due before `until`, with what became of them so far."""
    may_go = OrderNow.order.is_null() | (OrderNow.may_go_out == True)  # noqa: E712 - SQL, not Python
    free = Order.cancelled_at.is_null() & Order.held_at.is_null() & (Order.collect_by == "phlebotomist")
    is_due = fn.COALESCE(OrderNow.due_from, Order.due_from) <= as_text(until)
    rows = _orders(may_go & free & is_due, ward)
    return [(row, getattr(row, "became", None)) for row in rows]


def nurse_orders(ward: str | None, until: datetime) -> list[Order]:
    """Orders a nurse collects (a line draw): shown to the phlebotomist, never on a round."""
    free = Order.cancelled_at.is_null() & Order.held_at.is_null() & (Order.collect_by == "nurse")
    is_open = OrderNow.order.is_null() | (OrderNow.state == "pending")
    return list(_orders(is_open & free & (Order.due_from <= as_text(until)), ward))


def _orders(which: Any, ward: str | None) -> Iterable[Order]:
    asked = (
        Order.select(Order, Patient, Ward, OrderNow)
        .join(Patient)
        .join(Ward)
        .switch(Order)
        .join(OrderNow, "LEFT OUTER JOIN", on=(OrderNow.order == Order.id), attr="became")
        .where(which)
        .order_by(Order.due_from, Order.id)
    )
    rows = asked if ward is None else asked.where(Patient.ward == ward)
    return [_in_its_window(row) for row in rows]


def _in_its_window(order: Order) -> Order:
    """The order, read only, with the window that counts now: sent out again it has another than it came with."""
    became = getattr(order, "became", None)
    if became is not None and became.due_from is not None:
        order.due_from, order.due_to = became.due_from, became.due_to
    return order


def visits_of(round_id: str) -> list[VisitOut]:
    """The visits of a round, by position."""
    rows = list(
        Visit.select(Visit, Patient, Ward)
        .join(Patient)
        .join(Ward)
        .where(Visit.round == round_id)
        .order_by(Visit.position, Visit.id)
    )
    ids = [row.id for row in rows]
    orders, tubes = _orders_of(ids), _tubes_of(ids)
    begun = begun_of(ids)
    return [
        VisitOut(
            id=row.id,
            patient=row.patient,
            position=row.position,
            orders=tuple(orders.get(row.id, ())),
            tubes=tuple(tubes.get(row.id, ())),
            needle=row.needle,
            max_draw_ml=row.max_draw_ml,
            plan_findings=row.plan_findings,
            has_begun=row.id in begun,
        )
        for row in rows
    ]


def begun_of(visits: Collection[str]) -> set[str]:
    """Those of these visits at which something has happened."""
    return {row.visit_id for row in VisitNow.select(VisitNow.visit).where(VisitNow.visit << list(visits))}


def on_several_tablets(visits: Collection[str]) -> bool:
    """Report whether a round with one of these visits was fetched by more than one tablet."""
    rounds = {row.round_id for row in Visit.select(Visit.round).where(Visit.id << list(visits))}
    carried = (
        SpecimenNumber.select(SpecimenNumber.packet)
        .join(Packet, on=(Packet.id == SpecimenNumber.packet))
        .where((Packet.round << list(rounds)) & SpecimenNumber.spare)
        .group_by(SpecimenNumber.packet)
        .having(fn.COUNT(SpecimenNumber.holder.distinct()) > 1)
    )
    return bool(carried.exists())


def _orders_of(visits: list[str]) -> dict[str, list[Order]]:
    """The orders of each visit that are neither cancelled nor held, nor gone on to a later visit."""
    found: dict[str, list[Order]] = {}
    links = (
        VisitOrder.select(VisitOrder, Order, OrderNow)
        .join(Order)
        .join(OrderNow, "LEFT OUTER JOIN", on=(OrderNow.order == Order.id), attr="became")
        .where(VisitOrder.visit << visits)
    )
    for link in links.order_by(Order.due_from, Order.id):
        if link.order.cancelled_at is None and link.order.held_at is None:
            found.setdefault(link.visit_id, []).append(_in_its_window(link.order))
    return found


def _tubes_of(visits: list[str]) -> dict[str, list[TubeOut]]:
    found: dict[str, list[TubeOut]] = {}
    live = (Tube.visit << visits) & Tube.withdrawn_at.is_null()
    for row in Tube.select().where(live).order_by(Tube.position):
        values = {name: getattr(row, name) for name in PLANNED}
        found.setdefault(row.visit_id, []).append(
            TubeOut(id=row.id, kind=row.kind, tests=tuple(row.tests), values=values)
        )
    return found


def add_visit(round_id: str, patient: str, position: int, at: datetime) -> str:
    """Put one more stop on a round; gives its id."""
    made = new_id("v")
    Visit.insert(
        id=made, round=round_id, patient=patient, position=position, plan_findings=[], made_at=as_text(at)
    ).execute()
    return made


def add_orders(visit: str, orders: Iterable[str]) -> None:
    """Let a visit be for these orders, too."""
    for order in orders:
        VisitOrder.insert(visit=visit, order=order).execute()


def set_positions(positions: Mapping[str, int]) -> None:
    """Write the walking order."""
    for visit, position in positions.items():
        Visit.update(position=position).where(Visit.id == visit).execute()


def set_plan(
    visit: str,
    *,
    needle: str,
    keep: Mapping[str, Mapping[str, Any]],
    new: Iterable[Mapping[str, Any]],
    max_draw_ml: float | None,
    findings: list[dict[str, Any]],
    packet: str,
    at: datetime,
) -> None:
    """Write a plan: containers to keep (by id, with their new values), new ones with fresh numbers;
    others go.

    A container that goes stays as a row: a tablet that is away may have drawn into it.
    """
    gone = (Tube.visit == visit) & Tube.withdrawn_at.is_null() & (Tube.id.not_in(list(keep)))
    Tube.update(withdrawn_at=as_text(at)).where(gone).execute()
    for tube, values in keep.items():
        Tube.update(dict(values)).where(Tube.id == tube).execute()
    for values in new:
        number = hand_out_numbers(1, packet=packet, at=at)[0]
        Tube.insert(dict(values), id=new_id("t"), visit=visit, specimen=number).execute()
    plan = {"needle": needle, "max_draw_ml": max_draw_ml, "plan_findings": findings}
    Visit.update(plan).where(Visit.id == visit).execute()


def hand_out_numbers(
    count: int, *, packet: str, at: datetime, holder: str | None = None, spare: bool = False
) -> list[str]:
    """Fresh specimen numbers for a packet; none is ever handed out twice. Of spares at most `SPARES_AN_HOUR` a packet,
    so that a tablet that keeps asking under new names does not use the numbers up.
    """
    if spare:
        count = min(count, max(SPARES_AN_HOUR - _spares_within_an_hour(packet, at), 0))
    if count == 0:
        return []
    first = house().next_serial
    House.update(next_serial=first + count).execute()
    numbers = [specimen_number(first + step) for step in range(count)]
    for step, number in enumerate(numbers):
        SpecimenNumber.insert(
            number=number,
            serial=first + step,
            packet=packet,
            spare=spare,
            holder=holder,
            handed_out_at=as_text(at),
        ).execute()
    return numbers


def _spares_within_an_hour(packet: str, at: datetime) -> int:
    since = as_text(at - timedelta(hours=1))
    numbers = SpecimenNumber.select().where((SpecimenNumber.packet == packet) & SpecimenNumber.spare)
    return int(numbers.where(SpecimenNumber.handed_out_at > since).count())


def spares_of(packet: str, holder: str, round_id: str) -> list[str]:
    """The spare numbers one tablet carries on a round, those used already left out."""
    mine = (SpecimenNumber.packet == packet) & SpecimenNumber.spare & (SpecimenNumber.holder == holder)
    rows = SpecimenNumber.select().where(mine).order_by(SpecimenNumber.serial)
    used = _specimens_on(round_id)
    return [row.number for row in rows if row.number not in used]


def _specimens_on(round_id: str) -> set[str]:
    """The specimen numbers of every container the round's visits tell of."""
    rows = VisitNow.select(VisitNow.tubes).join(Visit).where(Visit.round == round_id)
    return {tube["specimen"] for row in rows for tube in row.tubes}


def others_waiting_for_same_patient(visits: Collection[str]) -> bool:
    """Report whether an open round still goes to a patient of these visits."""
    patients = Visit.select(Visit.patient).where(Visit.id << list(visits))
    ended = VisitNow.select(VisitNow.visit).where(VisitNow.ended_at.is_null(False))
    others = (
        Visit.select()
        .join(Round)
        .where((Visit.patient << patients) & Round.closed_at.is_null())
        .where(Visit.id.not_in(list(visits)) & Visit.id.not_in(ended))
    )
    return bool(others.exists())


def ward_people(ward: str | None) -> list[Patient]:
    """Every patient of a ward (all wards: None), for comparing names."""
    rows = Patient.select(Patient, Ward).join(Ward).order_by(Patient.family, Patient.id)
    return list(rows if ward is None else rows.where(Patient.ward == ward))


def person_of(person: str) -> Person:
    """The person behind an id."""
    return Person.get_by_id(person)


def ward_named(name: str) -> Ward | None:
    """The ward of this name."""
    return Ward.get_or_none(Ward.name == name)


def ward_by_id(ward: str) -> Ward:
    """The ward behind an id."""
    return Ward.get_by_id(ward)
