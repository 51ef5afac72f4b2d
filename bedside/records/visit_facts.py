"""What the house knows of a visit before anything happens there: the patient, the plan, the orders."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from bedside.records.patient_facts import Packed, packed
from bedside.records.tables import Order, Patient, ReportedVerdict, Tube, Visit, VisitNow, VisitOrder, Ward


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeFacts:
    """A container of the plan. `is_withdrawn`: a later plan did without it."""

    id: str
    kind: str
    specimen: str
    nominal_ml: float | None
    tests: tuple[str, ...]
    is_withdrawn: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFacts:
    """An order of the visit: its test, and whether it was cancelled."""

    id: str
    test: str
    is_cancelled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFacts:
    """A visit as planned. `patient` tells what its packets said of the patient; `max_draw_ml` caps this visit,
    None means no cap.
    """

    id: str
    patient: Packed
    needle: str
    max_draw_ml: float | None
    tubes: tuple[TubeFacts, ...]
    orders: tuple[OrderFacts, ...]
    differing: bool


def facts_of(visits: Collection[str]) -> dict[str, VisitFacts]:
    """The facts of these visits, by id; an unknown visit is left out."""
    wanted = list(visits)
    tubes: dict[str, list[TubeFacts]] = {visit: [] for visit in wanted}
    for row in Tube.select().where(Tube.visit << wanted).order_by(Tube.position, Tube.id):
        tubes[row.visit_id].append(_tube(row))
    orders: dict[str, list[OrderFacts]] = {visit: [] for visit in wanted}
    links = VisitOrder.select(VisitOrder, Order).join(Order).where(VisitOrder.visit << wanted)
    for link in links.order_by(Order.id):
        order = link.order
        orders[link.visit_id].append(OrderFacts(id=order.id, test=order.test, is_cancelled=bool(order.cancelled_at)))
    differing, patients = _differing(wanted), packed(wanted)
    rows = Visit.select().where(Visit.id << wanted)
    return {
        row.id: VisitFacts(
            id=row.id,
            patient=patients[row.id],
            needle=row.needle,
            max_draw_ml=row.max_draw_ml,
            tubes=tuple(tubes[row.id]),
            orders=tuple(orders[row.id]),
            differing=row.id in differing,
        )
        for row in rows
    }


def known_visits(visits: Collection[str]) -> frozenset[str]:
    """Those of these ids that name a visit of this house."""
    return frozenset(row.id for row in Visit.select(Visit.id).where(Visit.id << list(visits)))


def sharing_an_order(visits: Collection[str]) -> set[str]:
    """These visits and every other visit that was for one of their orders."""
    orders = VisitOrder.select(VisitOrder.order).where(VisitOrder.visit << list(visits))
    linked = VisitOrder.select(VisitOrder.visit).where(VisitOrder.order << orders)
    return {row.visit_id for row in linked} | set(visits)


def orders_of(visits: Collection[str]) -> set[str]:
    """The orders these visits are for."""
    return {row.order_id for row in VisitOrder.select().where(VisitOrder.visit << list(visits))}


def _differing(visits: list[str]) -> set[str]:
    """Visits of which some tablet's latest verdict differs from the house's."""
    latest: dict[tuple[str, str], bool] = {}
    rows = ReportedVerdict.select().where(ReportedVerdict.visit << visits).order_by(ReportedVerdict.id)
    for row in rows:
        latest[(row.visit_id, row.tablet)] = row.differs
    return {visit for (visit, _), is_different in latest.items() if is_different}


def _tube(row: Tube) -> TubeFacts:
    return TubeFacts(
        id=row.id,
        kind=row.kind,
        specimen=row.specimen,
        nominal_ml=row.nominal_ml,
        tests=tuple(row.tests),
        is_withdrawn=bool(row.withdrawn_at),
    )


def every_visit() -> Iterable[str]:
    """The id of every visit, in order."""
    return [row.id for row in Visit.select(Visit.id).order_by(Visit.id)]


def touched_since(at: str) -> dict[str, str]:
    """Visits in which something happened at or after this time, each with the time of its last event."""
    rows = VisitNow.select(VisitNow.visit, VisitNow.last_at).where(VisitNow.last_at >= at)
    return {row.visit_id: row.last_at for row in rows.order_by(VisitNow.last_at, VisitNow.visit)}


def beds_of(visits: Collection[str]) -> dict[str, str]:
    """Where the patients of these visits lie, for example `ward 5, 14 B`; no name."""
    rows = Visit.select(Visit, Patient, Ward).join(Patient).join(Ward).where(Visit.id << list(visits))
    return {row.id: f"ward {row.patient.ward.name}, {row.patient.room} {row.patient.bed}".strip() for row in rows}
