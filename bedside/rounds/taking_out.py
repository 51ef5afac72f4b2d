"""A person takes out a round: once in a morning, and again whenever the orders changed meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from bedside.clinical.directory import Directory
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.tube_request import Measures
from bedside.clinical.volume import Given
from bedside.clinical.windows import OrderWindow
from bedside.records import audit, order_standing, rounds_open
from bedside.records.blood_drawn import NOTHING, drawn_from
from bedside.records.house import a_packet_changed
from bedside.records.moments import as_text, read_moment
from bedside.records.rounds_open import VisitOut
from bedside.records.tables import Order, OrderNow, Patient, Round
from bedside.records.volumes_allowed import Allowed, allowed_now
from bedside.rounds.order_windows import waits_for_its_first, windows_of
from bedside.rounds.packing import PRIORITIES, Stop, Waiting, fit_in, join, walk
from bedside.rounds.planning import changes_nothing, needle_for, plan_change

ROUND_LASTS = timedelta(hours=12)
"""After that a round is over and what was not begun goes back: one shift (from memory)."""

REACH = timedelta(hours=12)
"""How far ahead orders are taken along: one shift (from memory)."""

NOT_FOR_THE_SAME = frozenset({"no_vein", "handed_over"})
"""Outcomes after which somebody else has to try."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """What planning needs: the laboratory's directory, the rules, and the zone the ward's clocks show."""

    directory: Directory
    book: Rulebook
    zone: tzinfo = UTC

    def windows(self, orders: Iterable[Order]) -> dict[str, OrderWindow]:
        """Each order's window that counts now, by order."""
        return windows_of(orders, self.directory, self.book, self.zone)


def take_out(person: str, ward: str | None, tools: Tools, at: datetime) -> Round:
    """The person's open round, brought up to date; a new one when there is none. Call inside `writing()`.

    Takes every pending phlebotomist order of the ward (of all wards: None) that is on nobody's round.
    """
    out = _current(person, at) or _start(person, ward, at)
    visits = rounds_open.visits_of(out.id)
    waiting = _waiting(person, out.ward_id, tools, at)
    joining = fit_in(_open_stops(visits, tools), waiting)
    for visit, orders in joining.joined.items():
        rounds_open.add_orders(visit, [order.order for order in orders])
    for stop in joining.stops:
        made = rounds_open.add_visit(out.id, stop.patient, stop.position, at)
        rounds_open.add_orders(made, [order.order for order in stop.orders])
    if waiting:
        order_standing.restate([order.order for order in waiting])
        _walk_anew(out.id, tools)
    replanned = _plan(out, tools, at)
    if waiting or replanned:
        a_packet_changed()
    return out


def hand_back(person: str, at: datetime, by: str) -> bool:
    """Close the person's round; what was not begun is pending again. Reports whether there was one.

    Call inside `writing()`.
    """
    out = rounds_open.open_round(person)
    if out is None:
        return False
    _close(out, at, by)
    return True


def packet_of(round_id: str) -> str:
    """The id of a round's packet: one for its whole life."""
    return "k-" + round_id.removeprefix("r-")


def _current(person: str, at: datetime) -> Round | None:
    out = rounds_open.open_round(person)
    if out is None or at - read_moment(out.taken_at) < ROUND_LASTS:
        return out
    _close(out, at, "house")
    return None


def _close(out: Round, at: datetime, by: str) -> None:
    order_standing.restate(rounds_open.close_round(out.id, at))
    audit.write(who=by, action="round closed", object=out.id, at=at)
    a_packet_changed()


def _start(person: str, ward: str | None, at: datetime) -> Round:
    name = f"Ward {ward_name(ward)}" if ward else "All wards"
    out = rounds_open.start_round(person, ward, f"{name} · {at:%Y-%m-%d}", at)
    audit.write(who=person, action="round taken out", object=out.id, at=at)
    return out


def ward_name(ward: str) -> str:
    """A ward's name by its id."""
    return rounds_open.ward_by_id(ward).name


def _waiting(person: str, ward: str | None, tools: Tools, at: datetime) -> list[Waiting]:
    rows = rounds_open.waiting_orders(ward, at + REACH)
    mine = [order for order, became in rows if not _is_for_somebody_else(became, person)]
    windows = tools.windows(mine)
    return [as_waiting(order, windows[order.id]) for order in mine]


def _is_for_somebody_else(became: OrderNow | None, person: str) -> bool:
    if became is not None and became.only_for is not None:
        return bool(became.only_for != person)
    if became is None or became.outcome not in NOT_FOR_THE_SAME or became.visit is None:
        return False
    out = became.visit.round
    return person in (became.by, out.person_id if out else None)


def as_waiting(order: Order, when: OrderWindow, patient: Patient | None = None) -> Waiting:
    """An order's row as packing sees it, due in the window that counts now."""
    who = patient or order.patient
    return Waiting(
        order=order.id,
        test=order.test,
        priority=order.priority,
        due_from=when.window.earliest,
        due_to=when.window.latest,
        is_later=waits_for_its_first(when),
        patient=who.id,
        ward=who.ward.name,
        room=who.room,
        bed=who.bed,
        isolation=who.isolation,
    )


def stop_of(visit: VisitOut, tools: Tools) -> Stop | None:
    """A visit as a stop; None when none of its orders is wanted any more."""
    windows = tools.windows(visit.orders)
    orders = [as_waiting(order, windows[order.id], visit.patient) for order in visit.orders]
    if not orders:
        return None
    first, *rest = orders
    stop = Stop(patient=first.patient, orders=(first,), due_from=first.due_from, due_to=first.due_to)
    for order in rest:
        stop = join(stop, order)
    return stop


def _open_stops(visits: Iterable[VisitOut], tools: Tools) -> dict[str, Stop]:
    """The stops that have not begun, by visit: only these may still change."""
    stops = {visit.id: stop_of(visit, tools) for visit in visits if not visit.has_begun}
    return {visit: stop for visit, stop in stops.items() if stop is not None}


def _walk_anew(round_id: str, tools: Tools) -> None:
    """Number the stops: those begun keep their turn, the others are walked as `packing.walk` says."""
    visits = rounds_open.visits_of(round_id)
    begun = [visit.id for visit in visits if visit.has_begun]
    stops = _open_stops(visits, tools)
    ahead = sorted(stops, key=lambda visit: walk(stops[visit]))
    left = [visit.id for visit in visits if visit.id not in stops and not visit.has_begun]
    rounds_open.set_positions({visit: n for n, visit in enumerate([*begun, *ahead, *left], start=1)})


def _plan(out: Round, tools: Tools, at: datetime) -> bool:
    """Plan every visit not begun; reports whether any plan changed.

    Not only the orders count: blood drawn elsewhere, a new weight, a new directory change a plan, too.
    """
    visits = [visit for visit in rounds_open.visits_of(out.id) if not visit.has_begun]
    patients = [visit.patient.id for visit in visits]
    drawn, allowed = drawn_from(patients, at), allowed_now(patients, at)
    changed = [
        _plan_visit(visit, drawn.get(visit.patient.id, NOTHING).given(), allowed.get(visit.patient.id), out, tools, at)
        for visit in visits
    ]
    return any(changed)


def _plan_visit(visit: VisitOut, given: Given, allowed: Allowed | None, out: Round, tools: Tools, at: datetime) -> bool:
    change = plan_change(
        visit.tubes,
        pressing(visit.orders),
        measures(visit.patient, given, allowed),
        needle=needle_for(date.fromisoformat(visit.patient.birth_date), tools.book, at),
        directory=tools.directory,
        book=tools.book,
        at=at,
    )
    if changes_nothing(change, visit):
        return False
    rounds_open.set_plan(
        visit.id,
        needle=change.needle,
        keep=change.keep,
        new=change.new,
        max_draw_ml=change.max_draw_ml,
        findings=change.findings,
        packet=packet_of(out.id),
        at=at,
    )
    return True


def measures(patient: Patient, given: Given, allowed: Allowed | None = None) -> Measures:
    """What the plan asks of a patient: what was given before, and what somebody allowed above the limit."""
    return Measures(
        birth_date=date.fromisoformat(patient.birth_date),
        sex=patient.sex,
        weight_kg=patient.weight_kg,
        height_m=patient.height_m,
        hematocrit_percent=patient.hematocrit_percent,
        drawn_24h_ml=given.day_ml,
        drawn_8_weeks_ml=given.eight_weeks_ml,
        allowed_ml=allowed.left_ml if allowed else None,
    )


def pressing(orders: Sequence[Order]) -> dict[str, int]:
    """How pressing each test is, 0 the most, in the orders' sequence."""
    found: dict[str, int] = {}
    for order in orders:
        found[order.test] = min(found.get(order.test, len(PRIORITIES)), PRIORITIES.index(order.priority))
    return found


def until(out: Round) -> str:
    """When the tablet must stop opening new visits by this round's packet."""
    return as_text(read_moment(out.taken_at) + ROUND_LASTS)
