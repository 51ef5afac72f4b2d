"""The ward as the records tell it now: one stop for each patient and visit, who is out, what waits for a
person.

Read-only. What it means for a charge nurse (late, failed, on its way) is decided in `bedside.web.standing`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from peewee import JOIN

from bedside.records.asked_orders import Asked, asked
from bedside.records.carriers import Carrier, carriers, carriers_of
from bedside.records.moments import as_text
from bedside.records.questions import Question, questions
from bedside.records.room_order import natural
from bedside.records.set_aside_now import count_unplaced
from bedside.records.tables import Incident, Order, OrderNow, Patient, Visit, VisitNow, Ward

LOOK_BACK = timedelta(hours=12)
"""How long a finished draw stays on the ward's page: one shift (common practice, no source)."""


UNFINISHED = ("pending", "out", "underway", "held", "not_collected", "in_question")
"""States that leave the page only when the order is drawn or somebody decides: none of them is forgotten."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One patient and what is asked of one visit (or of none yet)."""

    patient: str
    name: str
    record_number: str
    ward: str
    room: str
    bed: str
    isolation: str | None
    blood_thinner: bool | None
    restrictions: tuple[dict[str, str], ...]
    visit: str | None
    carrier: str | None
    arrived_at: str | None
    ended_at: str | None
    orders: tuple[Asked, ...]
    incidents: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WardNow:
    """All a ward's page needs."""

    ward: str
    stops: tuple[Stop, ...]
    carriers: tuple[Carrier, ...]
    unplaced: int
    questions: tuple[Question, ...]


NO_WARD = WardNow(ward="", stops=(), carriers=(), unplaced=0, questions=())
"""A house without a ward yet: none has been named by an order."""


def wards() -> tuple[tuple[str, str], ...]:
    """Every ward as (id, name), by name."""
    return tuple((ward.id, ward.name) for ward in Ward.select().order_by(Ward.name))


def read_ward(ward: str, now: datetime) -> WardNow:
    """Gather the ward with this id. A finished draw stays on the page for one shift."""
    stops = stops_of(recent_orders(Patient.ward == ward, as_text(now - LOOK_BACK)))
    return WardNow(
        ward=Ward.get_by_id(ward).name,
        stops=tuple(sorted(stops, key=in_walking_order)),
        carriers=carriers(ward),
        unplaced=count_unplaced(),
        questions=questions(Patient.ward == ward),
    )


def recent_visits(ward: str, now: datetime) -> dict[str, Patient]:
    """Visits of a ward made within two shifts, each with its patient."""
    since = as_text(now - 2 * LOOK_BACK)
    rows = Visit.select(Visit, Patient).join(Patient).where(Patient.ward == ward, Visit.made_at >= since)
    return {row.id: row.patient for row in rows}


def in_walking_order(stop: Stop) -> tuple[tuple[int, str], str, str]:
    """Room 9 before room 14, then bed, then name."""
    return natural(stop.room), stop.bed, stop.name


def recent_orders(which: Any, since: str) -> list[tuple[Order, OrderNow | None]]:
    """Orders still open, and those settled or due within the shift, each with what has become of it."""
    is_open = OrderNow.state.is_null() | OrderNow.state.in_(UNFINISHED)
    is_recent = (OrderNow.at >= since) | (Order.due_to >= since)
    query = (
        Order.select(Order, Patient, OrderNow)
        .join(Patient)
        .switch(Order)
        .join(OrderNow, JOIN.LEFT_OUTER, on=(OrderNow.order == Order.id), attr="became")
        .where(which, is_open | is_recent)
        .order_by(Order.due_to, Order.id)
    )
    return [(order, getattr(order, "became", None)) for order in query]


def stops_of(rows: Iterable[tuple[Order, OrderNow | None]]) -> list[Stop]:
    """One stop for each patient and visit; what nobody has taken out is one stop a patient and collector."""
    grouped: dict[tuple[str, str | None, str], list[tuple[Order, OrderNow | None]]] = defaultdict(list)
    for order, became in rows:
        # What came back waits like any other; the visit it came back from has a story of its own.
        visit = became.visit_id if became is not None and became.state != "pending" else None
        grouped[order.patient_id, visit, "" if visit else order.collect_by].append((order, became))
    visits = {visit for _, visit, _ in grouped if visit}
    told = {row.visit_id: row for row in VisitNow.select().where(VisitNow.visit.in_(visits))}
    incidents, carried = _incidents_of(visits), carriers_of(visits)
    return [
        _stop(visit, members, told.get(visit), incidents[visit], carried.get(visit))
        for (_, visit, _), members in grouped.items()
    ]


def _stop(
    visit: str | None,
    members: list[tuple[Order, OrderNow | None]],
    told: VisitNow | None,
    incidents: list[str],
    carrier: str | None,
) -> Stop:
    patient = members[0][0].patient
    return Stop(
        patient=patient.id,
        name=patient.name,
        record_number=patient.record_number,
        ward=patient.ward_id,
        room=patient.room,
        bed=patient.bed,
        isolation=patient.isolation,
        blood_thinner=patient.blood_thinner,
        restrictions=tuple(patient.restrictions or ()),
        visit=visit,
        carrier=carrier,
        arrived_at=told.arrived_at if told else None,
        ended_at=told.ended_at if told else None,
        orders=tuple(asked(order, became) for order, became in members),
        incidents=tuple(incidents),
    )


def _incidents_of(visits: Collection[str]) -> dict[str | None, list[str]]:
    kinds: dict[str | None, list[str]] = defaultdict(list)
    for row in Incident.select().where(Incident.visit.in_(visits), ~Incident.struck).order_by(Incident.happened_at):
        kinds[row.visit_id].append(row.kind)
    return kinds
