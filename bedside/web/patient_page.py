"""One patient's page as data: what is asked, what waits, what happened, what can be done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bedside.records import patient_changes
from bedside.records.asked_orders import Asked
from bedside.records.patients_now import PatientNow
from bedside.sync.books import book_in_force
from bedside.web.arm_words import WHY_CLOSED, why_closed
from bedside.web.corridor import Clock, Row, rows
from bedside.web.countdown import in_its_window
from bedside.web.desk import Desk
from bedside.web.order_words import PRIORITY_WORDS, NameOf, order_says
from bedside.web.repeat_sentences import repeat_sentences
from bedside.web.retelling import Retold, retell
from bedside.web.standing import standing
from bedside.web.story import plain
from bedside.web.times import local, window, zone_of
from bedside.web.waiting import ToSettle, place

SENT_FOR = timedelta(hours=1)
"""How long a window the form offers: a timed draw's hour (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One order on a patient's page."""

    id: str
    name: str
    number: str
    priority: str
    due: str
    state: str
    says: str
    note: str
    flag: str
    is_held: bool
    may_change: bool
    is_missed: bool
    came_back: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """The form that sends orders out again. Times as `datetime-local` has them, in the ward's zone."""

    orders: tuple[OrderLine, ...]
    due_from: str
    due_to: str
    people: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientPage:
    """One patient: what is asked, how it stands, what waits for a person, what happened, what can be done."""

    desk: Desk
    patient: str
    name: str
    where: str
    ward: str
    identity: str
    facts: tuple[tuple[str, str], ...]
    repeats: tuple[str, ...]
    stands: tuple[Row, ...]
    orders: tuple[OrderLine, ...]
    to_settle: tuple[ToSettle, ...]
    again: Again | None
    stories: tuple[Retold, ...]
    changeable: tuple[OrderLine, ...]
    flagged: tuple[OrderLine, ...]
    has_held: bool
    closed_arms: tuple[str, ...]
    sides: tuple[str, ...]
    whys: tuple[tuple[str, str], ...]
    wrong: str
    typed: str

    @classmethod
    def of(
        cls,
        desk: Desk,
        read: PatientNow,
        waiting: tuple[ToSettle, ...],
        collectors: Sequence[tuple[str, str]],
        now: datetime,
        name_of: NameOf,
        clock: Clock,
        wrong: str = "",
        typed: str = "",
    ) -> PatientPage:
        patient, zone = read.patient, zone_of(now)
        orders = tuple(_order_line(order, now, zone, name_of) for stop in read.stops for order in stop.orders)
        where = place(patient.room, patient.bed)
        stops = [in_its_window(stop, clock.windows) for stop in read.stops]
        return cls(
            desk=desk,
            patient=patient.id,
            name=patient.name,
            where=where,
            ward=patient.ward.name,
            identity=f"born {patient.birth_date}, record number {patient.record_number}",
            facts=tuple(_facts(read)),
            repeats=tuple(repeat_sentences(read.repeats, now, zone)),
            stands=rows([(stop, standing(stop, now)) for stop in stops], now, name_of, clock),
            orders=orders,
            to_settle=waiting,
            again=again_form(orders, collectors, now),
            stories=tuple(retell(story, now, zone, book_in_force()) for story in read.stories if story.events),
            changeable=tuple(order for order in orders if order.may_change),
            flagged=tuple(order for order in orders if order.flag),
            has_held=any(order.is_held for order in orders),
            closed_arms=tuple(sorted({rule["side"] for rule in patient.restrictions or ()})),
            sides=patient_changes.SIDES,
            whys=tuple((why, WHY_CLOSED[why]) for why in patient_changes.WHYS),
            wrong=wrong,
            typed=typed,
        )


def _facts(read: PatientNow) -> Iterable[tuple[str, str]]:
    patient = read.patient
    for rule in patient.restrictions or ():
        yield f"{str(rule.get('side', '')).capitalize()} arm", f"closed, {why_closed(rule)}"
    if patient.permissions:
        yield "Allowed by order", ", ".join(patient.permissions)
    if patient.blood_thinner:
        yield "Blood thinner", "yes: pressure is held longer"
    if patient.latex_allergy:
        yield "Latex allergy", "yes"
    if patient.isolation:
        yield "Precautions", plain(patient.isolation)
    if patient.language:
        yield "Language", patient.language


def _order_line(order: Asked, now: datetime, zone: ZoneInfo, name_of: NameOf) -> OrderLine:
    start, end = local(order.due_from, zone), local(order.due_to, zone)
    return OrderLine(
        id=order.id,
        name=name_of(order.test),
        number=order.number,
        priority=PRIORITY_WORDS.get(order.priority, order.priority) or "routine",
        due=window(start, end, now),
        state=order.state,
        says=order_says(order, now, zone),
        note="; ".join(part for part in (order.note, order.flag_note) if part),
        flag=order.flag_note,
        is_held=order.state == "held",
        may_change=order.state not in ("collected", "cancelled"),
        is_missed=order.state == "not_collected",
        came_back=order.came_back,
    )


def again_form(orders: Sequence[OrderLine], people: Sequence[tuple[str, str]], now: datetime) -> Again | None:
    """The form for what came back without its blood, for the hour to come; None where nothing did."""
    left = tuple(order for order in orders if order.is_missed or order.came_back)
    if not left:
        return None
    begins = now.replace(second=0, microsecond=0)
    return Again(
        orders=left,
        due_from=f"{begins:%Y-%m-%dT%H:%M}",
        due_to=f"{begins + SENT_FOR:%Y-%m-%dT%H:%M}",
        people=tuple(people),
    )
