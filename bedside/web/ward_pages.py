"""The charge nurse's pages as data: each page one frozen record, built from the records and the time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bedside.records import patient_changes
from bedside.records.ward_now import Aside, Asked, Carrier, PatientNow, Stop, WardNow, natural
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.morning_strip import Moment, Strip, draw
from bedside.web.retelling import Retold, retell
from bedside.web.standing import (
    OPEN,
    Standing,
    counts,
    incident_sentence,
    missed_words,
    standing,
)
from bedside.web.story import plain, told_whom
from bedside.web.times import ago, local, shown, spell, window
from bedside.web.waiting import Ask, Meanwhile, ToSettle, asks, came_back_sentence, place

NameOf = Callable[[str], str]

WHY_CLOSED = {
    "fistula": "fistula or graft",
    "lymph_nodes": "lymph nodes removed",
    "iv": "infusion",
    "other": "another reason",
}

ORDER_STATES = {
    "pending": "pending",
    "out": "on the way",
    "underway": "at the bedside now",
    "collected": "collected",
    "not_collected": "not obtained",
    "held": "held",
    "cancelled": "cancelled",
}

EMPTY = "Orders are taken in at the house's desk. This page looks again by itself."

SENT_FOR = timedelta(hours=1)
"""How long a window the form offers: a timed draw's hour (from memory)."""

AGAIN = frozenset({"failed", "refused", "partly"})
"""States after which somebody may have to go again, so that closed arms still matter."""

PRIORITY_WORDS = {"stat": "STAT", "asap": "as soon as possible", "urgent": "urgent", "routine": ""}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One stop of the corridor. room is empty when the row above is the same room."""

    room: str
    room_said: str
    bed: str
    patient: str
    name: str
    asked: str
    warnings: str
    due: str
    state: str
    word: str
    when: str
    why: str
    told: str
    flags: tuple[str, ...]
    incidents: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    state: str
    word: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WardPage:
    """The ward at a glance."""

    desk: Desk
    headline: str
    lead: str
    counts: tuple[Count, ...]
    carriers: tuple[str, ...]
    strip: Strip | None
    strip_says: str
    asks: tuple[Ask, ...]
    unplaced: str
    rows: tuple[Row, ...]

    @classmethod
    def of(cls, desk: Desk, ward: WardNow, meanwhile: Sequence[Meanwhile], now: datetime, name_of: NameOf) -> WardPage:
        zone = _zone(now)
        judged = [(stop, standing(stop, now)) for stop in ward.stops]
        waiting = asks(ward.questions, ward.stops, meanwhile)
        counted = counts(stands.state for _, stands in judged)
        return cls(
            desk=desk,
            lead="" if ward.stops else EMPTY,
            headline=headline(counted, sum(len(ask.wheres) for ask in waiting), ward.unplaced),
            counts=tuple(Count(state=state, word=word, number=number) for state, word, number in counted),
            carriers=tuple(carrier_sentence(carrier, now, zone) for carrier in ward.carriers),
            strip=draw([_moment(stop, stands, now) for stop, stands in judged if _is_on_strip(stands)], now),
            strip_says=", ".join(f"{number} {word}" for _, word, number in counted),
            asks=waiting,
            unplaced=unplaced_sentence(ward.unplaced),
            rows=_rows(judged, now, name_of),
        )


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
        wrong: str = "",
        typed: str = "",
    ) -> PatientPage:
        patient, zone = read.patient, _zone(now)
        orders = tuple(_order_line(order, now, zone, name_of) for stop in read.stops for order in stop.orders)
        where = place(patient.room, patient.bed)
        return cls(
            desk=desk,
            patient=patient.id,
            name=patient.name,
            where=where,
            ward=patient.ward.name,
            identity=f"born {patient.birth_date}, record number {patient.record_number}",
            facts=tuple(_facts(read)),
            stands=_rows([(stop, standing(stop, now)) for stop in read.stops], now, name_of),
            orders=orders,
            to_settle=waiting,
            again=again_form(orders, collectors, now),
            stories=tuple(retell(story, now, zone) for story in read.stories if story.events),
            changeable=tuple(order for order in orders if order.may_change),
            flagged=tuple(order for order in orders if order.flag),
            has_held=any(order.is_held for order in orders),
            closed_arms=tuple(sorted({rule["side"] for rule in patient.restrictions or ()})),
            sides=patient_changes.SIDES,
            whys=tuple((why, WHY_CLOSED[why]) for why in patient_changes.WHYS),
            wrong=wrong,
            typed=typed,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AsideLine:
    """One record that could not be placed."""

    id: int
    says: str
    reason: str
    facts: tuple[tuple[str, str], ...]
    body: str
    settled: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAsidePage:
    """Every record that could not be placed, the unsettled first."""

    desk: Desk
    headline: str
    open: tuple[AsideLine, ...]
    settled: tuple[AsideLine, ...]
    wrong: str

    @classmethod
    def of(cls, desk: Desk, asides: Sequence[Aside], now: datetime, wrong: str = "") -> SetAsidePage:
        waiting = tuple(_aside_line(aside, now) for aside in asides if not aside.settled_at)
        return cls(
            desk=desk,
            headline=unplaced_sentence(len(waiting)) or "Every record found its place.",
            open=waiting,
            settled=tuple(_aside_line(aside, now) for aside in asides if aside.settled_at),
            wrong=wrong,
        )


def headline(counted: Sequence[tuple[str, str, int]], waiting: int, unplaced: int) -> str:
    """The one sentence at the top: what needs the charge nurse first."""
    number = {state: many for state, _, many in counted}
    pressing = []
    if number.get("late"):
        pressing.append(f"{many(number['late'], 'draw is', 'draws are')} late")
    if waiting + unplaced:
        pressing.append(f"{many(waiting + unplaced, 'question waits', 'questions wait')} for you")
    if pressing:
        return sentence(", ".join(pressing))
    to_come = sum(number.get(state, 0) for state in OPEN)
    if to_come:
        return sentence(f"{many(to_come, 'draw is', 'draws are')} still to come, none late")
    return "Every draw of this shift is settled." if counted else "No draws are asked for on this ward."


def carrier_sentence(carrier: Carrier, now: datetime, zone: ZoneInfo) -> str:
    """Who is out, with how much, and since when nothing was heard."""
    left = many(carrier.visits_left, "visit", "visits") if carrier.visits_left else "no visit"
    heard = "tablet not heard yet"
    if carrier.last_heard_at:
        at = local(carrier.last_heard_at, zone)
        heard = f"tablet last heard {shown(at, now)}, {ago(at, now)}"
    return f"{carrier.name} is out since {shown(local(carrier.taken_at, zone), now)}, {left} to go; {heard}."


def unplaced_sentence(number: int) -> str:
    """Say how many records found no place; empty when all did."""
    if not number:
        return ""
    return sentence(f"{many(number, 'record', 'records')} could not be placed")


def _zone(now: datetime) -> ZoneInfo:
    """The zone a page's time carries: pages are built from a moment in the ward's own zone."""
    assert isinstance(now.tzinfo, ZoneInfo)
    return now.tzinfo


def _is_on_strip(stands: Standing) -> bool:
    return stands.state != "cancelled"


def _moment(stop: Stop, stands: Standing, now: datetime) -> Moment:
    at = stands.shown_at.astimezone(now.tzinfo)
    return Moment(
        at=at,
        state=stands.state,
        says=f"{place(stop.room, stop.bed)}, {stop.name}: {stands.word}, {shown(at, now)}",
    )


def _rows(judged: Sequence[tuple[Stop, Standing]], now: datetime, name_of: NameOf) -> tuple[Row, ...]:
    rows, room = [], None
    for stop, stands in judged:
        rows.append(_row(stop, stands, now, name_of, is_same_room=natural(stop.room) == room))
        room = natural(stop.room)
    return tuple(rows)


def _row(stop: Stop, stands: Standing, now: datetime, name_of: NameOf, *, is_same_room: bool) -> Row:
    start, end = (at.astimezone(now.tzinfo) for at in (stands.due_from, stands.due_to))
    return Row(
        room="" if is_same_room else stop.room,
        room_said=stop.room,
        bed=stop.bed,
        patient=stop.patient,
        name=stop.name,
        asked=_asked_sentence(stop.orders, name_of),
        warnings=" · ".join(_warnings(stop)) if stands.state in OPEN or stands.state in AGAIN else "",
        due=window(start, end, now),
        state=stands.state,
        word=stands.word,
        when=_when(stands, now),
        why="; ".join(part for part in (came_back_sentence(stop.orders, now, _zone(now)), stands.why) if part),
        told=stands.told,
        flags=tuple(dict.fromkeys(order.flag_note for order in stop.orders if order.flag_note)),
        incidents=incident_sentence(stop.incidents),
    )


def _when(stands: Standing, now: datetime) -> str:
    if stands.state == "late":
        return f"since {shown(stands.due_to.astimezone(now.tzinfo), now)}, {spell(now - stands.due_to)}"
    if stands.state in OPEN:
        return ""
    return shown(stands.shown_at.astimezone(now.tzinfo), now)


def _asked_sentence(orders: Sequence[Asked], name_of: NameOf) -> str:
    """Tests by name, each once; the most pressing priority in front."""
    names = list(dict.fromkeys(name_of(order.test) for order in orders))
    priorities = {order.priority for order in orders}
    pressing = next((word for key, word in PRIORITY_WORDS.items() if word and key in priorities), "")
    return f"{pressing}: {', '.join(names)}" if pressing else ", ".join(names)


def _warnings(stop: Stop) -> list[str]:
    return [
        *(
            f"{rule.get('side')} arm closed, {WHY_CLOSED.get(rule.get('why', ''), 'closed')}"
            for rule in stop.restrictions
        ),
        *(["blood thinner"] if stop.blood_thinner else []),
        *([f"{plain(stop.isolation)} precautions"] if stop.isolation else []),
    ]


def _why_closed(rule: Mapping[str, str]) -> str:
    return WHY_CLOSED.get(rule.get("why", ""), "reason not given")


def _facts(read: PatientNow) -> Iterable[tuple[str, str]]:
    patient = read.patient
    for rule in patient.restrictions or ():
        yield f"{str(rule.get('side', '')).capitalize()} arm", f"closed, {_why_closed(rule)}"
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
        says=_order_says(order, now, zone),
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


def _order_says(order: Asked, now: datetime, zone: ZoneInfo) -> str:
    state = ORDER_STATES.get(order.state, plain(order.state))
    if order.came_back:
        return f"{state}; {came_back_sentence([order], now, zone)}"
    if order.state == "not_collected":
        state = f"not drawn: {missed_words(order)}"
    at = f" {shown(local(order.at, zone), now)}" if order.at and order.state not in ("pending", "out") else ""
    told = told_whom(order.told)
    return "; ".join(part for part in (f"{state}{at}", _order_why(order), f"told: {told}" if told else "") if part)


def _order_why(order: Asked) -> str:
    """Why it stands so. What was decided at the desk and overtaken by the blood is told as what it was."""
    if order.state in ("cancelled", "held"):
        return order.cancel_reason or order.hold_reason or order.reason
    overtaken = f"had been cancelled: {order.cancel_reason}" if order.cancel_reason else ""
    return "; ".join(part for part in (order.reason, overtaken) if part)


def _aside_line(aside: Aside, now: datetime) -> AsideLine:
    zone = _zone(now)
    facts = [
        ("Reason", plain(aside.reason)),
        ("What it reports", plain(aside.kind) if aside.kind else "cannot be read"),
        ("When, by the tablet", shown_or_raw(aside.at, now, zone)),
        ("By", aside.by or "nobody named"),
        ("Visit", aside.visit or "none named"),
        (
            "Tablet and number",
            f"{aside.tablet or 'unknown'}, {aside.seq if aside.seq is not None else 'none'}",
        ),
        ("Reached the server", shown(local(aside.received_at, zone), now)),
    ]
    settled = ""
    if aside.settled_at:
        at, by = shown(local(aside.settled_at, zone), now), aside.settled_by or "the house"
        settled = f"Settled {at} by {by}: {aside.settled_note}"
    return AsideLine(
        id=aside.id,
        says=aside.says,
        reason=plain(aside.reason),
        facts=tuple(facts),
        body=aside.body or "",
        settled=settled,
    )


def shown_or_raw(text: str | None, now: datetime, zone: ZoneInfo) -> str:
    """A claimed time for people; what cannot be read as a time is shown as it was written."""
    if not text:
        return "no time given"
    try:
        return shown(local(text, zone), now)
    except ValueError:
        return text
