"""Which orders make one stop, and in which order the stops are walked. Pure: no table, no clock."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from bedside.records.room_order import natural

PRIORITIES = ("stat", "asap", "urgent", "routine")
"""The most pressing first."""

TIMED_WITHIN_MIN = 60
"""Minutes. An order whose whole window is at most this long is a timed one (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """One order that waits for a phlebotomist, with what the walk needs to know about its patient.

    is_later: it follows a first specimen that is not drawn yet, so it makes a stop of its own.
    """

    order: str
    test: str
    priority: str
    due_from: datetime
    due_to: datetime
    patient: str
    ward: str
    room: str
    bed: str
    isolation: str | None = None
    is_later: bool = False

    @property
    def is_timed(self) -> bool:
        return (self.due_to - self.due_from).total_seconds() <= TIMED_WITHIN_MIN * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop at one bed: the orders that can be drawn together, and the time they have in common."""

    patient: str
    orders: tuple[Waiting, ...]
    due_from: datetime
    due_to: datetime
    position: int = 0

    @property
    def priority(self) -> str:
        """The most pressing of its orders."""
        return min((order.priority for order in self.orders), key=PRIORITIES.index)

    @property
    def is_timed(self) -> bool:
        return any(order.is_timed for order in self.orders)

    @property
    def place(self) -> Waiting:
        """Any of its orders: they all name the same bed."""
        return self.orders[0]


def pack(waiting: Iterable[Waiting]) -> tuple[Stop, ...]:
    """Make stops out of orders and put them in walking order, counted from 1."""
    stops = [stop for orders in _by_patient(waiting) for stop in stops_of(orders)]
    return tuple(replace(stop, position=n) for n, stop in enumerate(sorted(stops, key=walk), start=1))


def stops_of(orders: Iterable[Waiting]) -> list[Stop]:
    """Orders of one patient, drawn together where their windows share a moment, else at another stop.

    Later ones of a series come last, so that they part no others.
    """
    stops: list[Stop] = []
    for order in sorted(orders, key=lambda one: (one.is_later, one.due_from, one.due_to, one.order)):
        if stops and may_join(stops[-1], order):
            stops[-1] = join(stops[-1], order)
        else:
            stops.append(Stop(patient=order.patient, orders=(order,), due_from=order.due_from, due_to=order.due_to))
    return stops


def may_join(stop: Stop, order: Waiting) -> bool:
    """Report whether there is a moment at which this order, too, may be drawn; a later one of a series goes alone."""
    if order.is_later or any(one.is_later for one in stop.orders):
        return False
    return max(stop.due_from, order.due_from) <= min(stop.due_to, order.due_to)


def join(stop: Stop, order: Waiting) -> Stop:
    """The stop with one more order; its time is what all of them have in common."""
    return replace(
        stop,
        orders=(*stop.orders, order),
        due_from=max(stop.due_from, order.due_from),
        due_to=min(stop.due_to, order.due_to),
    )


def walk(stop: Stop) -> tuple[object, ...]:
    """Where a stop stands: STAT first, then timed draws by their hour, patients in isolation last,
    else by room.
    """
    is_stat = stop.priority == "stat"
    is_isolated = bool(stop.place.isolation) and not is_stat
    is_timed = stop.is_timed and not is_isolated
    return (
        not is_stat,
        is_isolated,
        not is_timed,
        stop.due_from if is_timed else datetime.min.replace(tzinfo=stop.due_from.tzinfo),
        natural(stop.place.ward),
        natural(stop.place.room),
        natural(stop.place.bed),
        stop.due_from,
        stop.patient,
    )


def _by_patient(waiting: Iterable[Waiting]) -> list[list[Waiting]]:
    grouped: dict[str, list[Waiting]] = {}
    for order in waiting:
        grouped.setdefault(order.patient, []).append(order)
    return list(grouped.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """Where newly waiting orders go: to a stop that has not begun, by its visit, or to new stops."""

    joined: dict[str, tuple[Waiting, ...]]
    stops: tuple[Stop, ...]


def fit_in(stops: dict[str, Stop], waiting: Iterable[Waiting]) -> Joining:
    """Fit orders into the stops (by visit) that have not begun; the rest make stops of their own."""
    open_stops = dict(stops)
    joined: dict[str, tuple[Waiting, ...]] = {}
    rest: list[Waiting] = []
    for order in sorted(waiting, key=lambda one: (one.due_from, one.due_to, one.order)):
        place = next((v for v, stop in open_stops.items() if _goes_with(stop, order)), None)
        if place is None:
            rest.append(order)
        else:
            open_stops[place] = join(open_stops[place], order)
            joined[place] = (*joined.get(place, ()), order)
    return Joining(joined=joined, stops=pack(rest))


def _goes_with(stop: Stop, order: Waiting) -> bool:
    return stop.patient == order.patient and may_join(stop, order)
