"""The ward as the records tell it now: one stop for each patient and visit, who is out, what waits for a
person.

Read-only. What it means for a charge nurse (late, failed, on its way) is decided in `bedside.web.standing`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from peewee import JOIN

from bedside.records.finding_reviews import Key, Settled, settled_of
from bedside.records.moments import as_text
from bedside.records.tables import (
    Event,
    FindingNow,
    Incident,
    Order,
    OrderNow,
    Patient,
    Person,
    Round,
    SetAside,
    Tablet,
    Tube,
    Visit,
    VisitNow,
    VisitOrder,
    Ward,
)

LOOK_BACK = timedelta(hours=12)
"""How long a finished draw stays on the ward's page: one shift (common practice, no source)."""

SEVERITIES = ("stop", "ask", "note")

UNFINISHED = ("pending", "out", "underway", "held", "not_collected")
"""States that leave the page only when the order is drawn or somebody decides: none of them is forgotten."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A finding that stands, as the rules said it; `settled` is what a person said to it since."""

    code: str
    severity: str
    says: str
    do_next: str
    source: str
    event: str | None
    found_by: str
    at: str | None
    visit: str | None
    settled: Settled | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A finding that nobody has settled yet, with whose it is. ended_at: None while the visit goes on."""

    patient: str
    name: str
    room: str
    bed: str
    ended_at: str | None
    found: Found


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
class Carrier:
    """Somebody out with a round, and when a tablet of theirs was last heard."""

    name: str
    round: str
    taken_at: str
    visits_left: int
    last_heard_at: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """A record that could not be placed, until a person settles it."""

    id: int
    says: str
    reason: str
    tablet: str | None
    seq: int | None
    visit: str | None
    received_at: str
    body: str | None
    kind: str | None
    at: str | None
    by: str | None
    settled_at: str | None
    settled_by: str | None
    settled_note: str


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One event of a visit, for its story."""

    id: str
    kind: str
    at: str
    by: str
    tablet: str
    seq: int | None
    body: str
    received_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitStory:
    """One visit with everything that happened at it. tubes: (id, position, kind) as planned.

    settled: whatever persons said to its findings, also to those that stand no more.
    """

    visit: str
    patient: Patient
    carrier: str | None
    now: VisitNow | None
    events: tuple[Told, ...]
    findings: tuple[Found, ...]
    tubes: tuple[tuple[str, int, str], ...]
    orders: tuple[Asked, ...]
    settled: tuple[Settled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientNow:
    """One patient, what is asked, and every visit of this shift."""

    patient: Patient
    stops: tuple[Stop, ...]
    stories: tuple[VisitStory, ...]


def wards() -> tuple[tuple[str, str], ...]:
    """Every ward as (id, name), by name."""
    return tuple((ward.id, ward.name) for ward in Ward.select().order_by(Ward.name))


def read_ward(ward: str, now: datetime) -> WardNow:
    """Gather the ward with this id. A finished draw stays on the page for one shift."""
    stops = _stops(_orders(Patient.ward == ward, as_text(now - LOOK_BACK)))
    return WardNow(
        ward=Ward.get_by_id(ward).name,
        stops=tuple(sorted(stops, key=in_walking_order)),
        carriers=carriers(ward),
        unplaced=count_unplaced(),
        questions=questions(Patient.ward == ward),
    )


def questions(which: Any) -> tuple[Question, ...]:
    """Every finding nobody has settled, however old: time alone settles nothing. Notes ask nothing."""
    rows = list(
        FindingNow.select(FindingNow, Visit, Patient)
        .join(Visit)
        .join(Patient)
        .where(which, FindingNow.severity != "note")
        .order_by(FindingNow.id)
    )
    visits = {row.visit_id for row in rows}
    settled = settled_of(visits)
    ended = {row.visit_id: row.ended_at for row in VisitNow.select().where(VisitNow.visit.in_(visits))}
    found = ((row.visit.patient, ended.get(row.visit_id), _found(row, settled)) for row in rows)
    return tuple(
        Question(patient=who.id, name=who.name, room=who.room, bed=who.bed, ended_at=ended_at, found=one)
        for who, ended_at, one in found
        if one.settled is None
    )


def recent_visits(ward: str, now: datetime) -> dict[str, Patient]:
    """Visits of a ward made within two shifts, each with its patient."""
    since = as_text(now - 2 * LOOK_BACK)
    rows = Visit.select(Visit, Patient).join(Patient).where(Patient.ward == ward, Visit.made_at >= since)
    return {row.id: row.patient for row in rows}


def in_walking_order(stop: Stop) -> tuple[tuple[int, str], str, str]:
    """Room 9 before room 14, then bed, then name."""
    return natural(stop.room), stop.bed, stop.name


def natural(room: str) -> tuple[int, str]:
    """A room's number before its letters, so that 9 comes before 14 and 14 before 14A."""
    digits = "".join(sign for sign in room if sign.isdigit())
    return int(digits) if digits else 0, room


def _orders(which: Any, since: str) -> list[tuple[Order, OrderNow | None]]:
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


def _stops(rows: Iterable[tuple[Order, OrderNow | None]]) -> list[Stop]:
    """One stop for each patient and visit; what nobody has taken out is one stop a patient and collector."""
    grouped: dict[tuple[str, str | None, str], list[tuple[Order, OrderNow | None]]] = defaultdict(list)
    for order, became in rows:
        # What came back waits like any other; the visit it came back from has a story of its own.
        visit = became.visit_id if became is not None and became.state != "pending" else None
        grouped[order.patient_id, visit, "" if visit else order.collect_by].append((order, became))
    visits = {visit for _, visit, _ in grouped if visit}
    told = {row.visit_id: row for row in VisitNow.select().where(VisitNow.visit.in_(visits))}
    incidents, carried = _incidents_of(visits), _carriers_of(visits)
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


def findings_of(visits: Collection[str]) -> dict[str | None, list[Found]]:
    """The findings that stand about these visits, most serious first."""
    found: dict[str | None, list[Found]] = defaultdict(list)
    rows = FindingNow.select().where(FindingNow.visit.in_(visits)).order_by(FindingNow.id)
    settled = settled_of(visits)
    for row in sorted(rows, key=lambda row: SEVERITIES.index(row.severity)):
        found[row.visit_id].append(_found(row, settled))
    return found


def _found(row: FindingNow, settled: Mapping[Key, Settled]) -> Found:
    return Found(
        code=row.code,
        severity=row.severity,
        says=row.says,
        do_next=row.do_next,
        source=row.source,
        event=row.event,
        found_by=row.found_by,
        at=row.at,
        visit=row.visit_id,
        settled=settled.get((row.visit_id, row.code, row.event)),
    )


def _incidents_of(visits: Collection[str]) -> dict[str | None, list[str]]:
    kinds: dict[str | None, list[str]] = defaultdict(list)
    for row in Incident.select().where(Incident.visit.in_(visits)).order_by(Incident.happened_at):
        kinds[row.visit_id].append(row.kind)
    return kinds


def _carriers_of(visits: Collection[str]) -> dict[str | None, str]:
    query = Visit.select(Visit, Round, Person).join(Round).join(Person).where(Visit.id.in_(visits))
    return {visit.id: visit.round.person.name for visit in query}


def carriers(ward: str) -> tuple[Carrier, ...]:
    """Who is out on this ward, earliest first."""
    rounds = (
        Round.select(Round, Person)
        .join(Person)
        .where(Round.ward == ward, Round.closed_at.is_null())
        .order_by(Round.taken_at)
    )
    return tuple(
        Carrier(
            name=out.person.name,
            round=out.name,
            taken_at=out.taken_at,
            visits_left=_visits_left(out),
            last_heard_at=last_heard(out.person_id),
        )
        for out in rounds
    )


def _visits_left(out: Round) -> int:
    """Visits of the round that have not ended."""
    ended = VisitNow.select(VisitNow.visit).where(VisitNow.ended_at.is_null(False))
    count: int = Visit.select().where(Visit.round == out, Visit.id.not_in(ended)).count()
    return count


def last_heard(person: str) -> str | None:
    """When a tablet this person was signed in on last spoke to the server."""
    newest = Tablet.select().where(Tablet.person == person).order_by(Tablet.last_seen_at.desc()).first()
    return newest.last_seen_at if newest else None


def count_unplaced() -> int:
    """How many records wait for a person because they found no place."""
    count: int = SetAside.select().where(SetAside.settled_at.is_null(), SetAside.placed_at.is_null()).count()
    return count


def set_aside() -> tuple[Aside, ...]:
    """Every record that could not be placed: the unsettled first, each with the newest first."""
    rows = list(
        SetAside.select(SetAside, Person)
        .join(Person, JOIN.LEFT_OUTER, on=(SetAside.settled_by == Person.id))
        .where(SetAside.placed_at.is_null())
        .order_by(SetAside.settled_at.is_null(False), SetAside.received_at.desc())
    )
    named = [row.event for row in rows if row.event]
    events = {event.id: event for event in Event.select().where(Event.id.in_(named))}
    return tuple(_aside(row, events.get(row.event)) for row in rows)


def _aside(row: SetAside, event: Event | None) -> Aside:
    return Aside(
        id=row.id,
        says=row.says,
        reason=row.reason,
        tablet=row.tablet,
        seq=row.seq,
        visit=row.visit,
        received_at=row.received_at,
        body=row.body if row.body is not None else (event.body if event else None),
        kind=event.kind if event else None,
        at=event.at if event else None,
        by=person_name(event.by) if event else None,
        settled_at=row.settled_at,
        settled_by=row.settled_by.name if row.settled_by_id else None,
        settled_note=row.settled_note,
    )


def person_name(person: str | None) -> str:
    """A person's name, or the claimed id where no such person is known."""
    if person is None:
        return "nobody named"
    known = Person.get_or_none(Person.id == person)
    return known.name if known else person


def read_patient(patient: str, now: datetime) -> PatientNow | None:
    """One patient with this shift's stops and the story of each visit; None when there is no such patient."""
    row = Patient.get_or_none(Patient.id == patient)
    if row is None:
        return None
    since = as_text(now - LOOK_BACK)
    stops = _stops(_orders(Order.patient == patient, since))
    visits = {stop.visit for stop in stops if stop.visit}
    visits |= {one.found.visit for one in questions(Patient.id == patient) if one.found.visit}
    recent = Visit.select().where(Visit.patient == patient, Visit.made_at >= since)
    return PatientNow(
        patient=row,
        stops=tuple(stops),
        stories=tuple(_story(visit) for visit in _in_order(visits | {visit.id for visit in recent})),
    )


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


def read_story(visit: str) -> VisitStory | None:
    """One visit with all that is recorded about it, as it happened; None when there is no such visit."""
    row = Visit.get_or_none(Visit.id == visit)
    return _story(row) if row else None


def _in_order(visits: Collection[str]) -> list[Visit]:
    return list(Visit.select().where(Visit.id.in_(visits)).order_by(Visit.made_at, Visit.position, Visit.id))


def _story(visit: Visit) -> VisitStory:
    tubes = Tube.select().where(Tube.visit == visit).order_by(Tube.position)
    return VisitStory(
        visit=visit.id,
        patient=visit.patient,
        carrier=_carriers_of({visit.id}).get(visit.id),
        now=VisitNow.get_or_none(VisitNow.visit == visit),
        events=events_of(visit.id),
        findings=tuple(findings_of({visit.id})[visit.id]),
        tubes=tuple((tube.id, tube.position, tube.kind) for tube in tubes),
        orders=_orders_for(visit.id),
        settled=tuple(settled_of({visit.id}).values()),
    )


def _orders_for(visit: str) -> tuple[Asked, ...]:
    query = (
        Order.select(Order, OrderNow)
        .join(VisitOrder)
        .switch(Order)
        .join(OrderNow, JOIN.LEFT_OUTER, on=(OrderNow.order == Order.id), attr="became")
        .where(VisitOrder.visit == visit)
        .order_by(Order.due_to, Order.id)
    )
    return tuple(asked(order, getattr(order, "became", None)) for order in query)


def events_of(visit: str) -> tuple[Told, ...]:
    """The visit's events by the tablets' own times; what is still set aside is not part of the story."""
    aside = SetAside.select(SetAside.event).where(SetAside.placed_at.is_null(), SetAside.event.is_null(False))
    rows = Event.select().where(Event.visit == visit, Event.id.not_in(aside)).order_by(Event.at, Event.seq)
    names = {person.id: person.name for person in Person.select()}
    return tuple(
        Told(
            id=row.id,
            kind=row.kind or "",
            at=row.at or row.received_at,
            by=names.get(row.by, row.by or "nobody named"),
            tablet=row.tablet,
            seq=row.seq,
            body=row.body,
            received_at=row.received_at,
        )
        for row in rows
    )
