"""When an order may be drawn: from its priority, or from the kind of level it is. And how it stands at a moment.

Everything is reckoned in UTC, so that a night on which the clocks change has as many minutes as it has; only a morning
specimen looks at the ward's own clock.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final, Literal

from bedside.clinical.limits import Limit
from bedside.clinical.rulebook_volumes import VOLUME_LIMITS
from bedside.clinical.timing import Moments, Window, draw_window

Stands = Literal["too-early", "open", "due", "late", "missed"]

TOO_EARLY: Final = "too-early"
OPEN: Final = "open"
DUE: Final = "due"
LATE: Final = "late"
MISSED: Final = "missed"

WHY = {
    "trough": "trough: in the time before the next dose",
    "peak": "peak: after the end of the infusion",
    "after-6h": "not within the first hours after the dose",
    "after-12h": "twelve hours after the dose",
    "serial": "series: so long after the first specimen",
    "load": "glucose load: so long after the first sip",
    "morning": "morning hormone, by the ward's clock",
    "priority": "as ordered",
}
"""What a window follows, for people."""


FIRST_SPECIMEN = "the first specimen's time"
"""What a later order of a series lacks until the first one is drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
    """What an order says about its time; None is not known.

    timing: the directory's word for the test, empty where its time does not matter to the result.
    dose_at: the next dose for a trough, the last one for a level after the dose. after_min: minutes after
    `first_at`, which is the first specimen of a series or the start of a glucose load.
    by_hand: somebody gave this window when the order was sent out again, so it counts as it stands.
    """

    timing: str
    priority: str
    due_from: datetime
    due_to: datetime
    dose_at: datetime | None = None
    infusion_end_at: datetime | None = None
    first_at: datetime | None = None
    after_min: int | None = None
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderWindow:
    """From when to when, the moment aimed at, what it follows (a word of `WHY`), and what is still unknown.

    is_level: outside it the result would mislead, so that afterwards it is missed and not merely late.
    own: the level's own window, where somebody gave another by hand: it stays told whether it was missed.
    """

    window: Window
    follows: str
    is_level: bool
    lacks: str = ""
    own: Window | None = None

    @property
    def why(self) -> str:
        return WHY[self.follows]


def window_of(ordered: Ordered, zone: tzinfo, limits: Mapping[str, Limit] = VOLUME_LIMITS) -> OrderWindow:
    """The window that counts: the level's own where its moment is known, else the order's."""
    asked = OrderWindow(window=_by_priority(ordered, limits), follows="priority", is_level=False)
    if ordered.by_hand:
        first = window_of(replace(ordered, by_hand=False), zone, limits)
        return replace(asked, own=first.window if first.is_level else None)
    if ordered.after_min is not None:
        return _after_the_first(ordered, ordered.after_min, limits) or replace(asked, lacks=FIRST_SPECIMEN)
    if ordered.timing == "morning":
        return _morning(ordered, zone, limits) or asked
    return _level(ordered, limits) or replace(asked, lacks=_LACKS.get(ordered.timing, ""))


def stands(order: OrderWindow, now: datetime, limits: Mapping[str, Limit] = VOLUME_LIMITS) -> Stands:
    """How an order that is not drawn stands: both ends of its window are inside it.

    A level is missed once its window is over; what merely waits is late first, and missed some hours later.
    """
    at, window = now.astimezone(UTC), order.window
    if at < window.earliest:
        return TOO_EARLY
    if at <= window.latest:
        return DUE if at >= window.aim else OPEN
    grace = timedelta(minutes=0 if order.is_level else limits["missed_after_min"].value)
    return LATE if at <= window.latest + grace else MISSED


def drawn_beside(order: OrderWindow, drawn_at: datetime) -> timedelta:
    """How far outside its window a specimen was drawn: negative before it, positive after it, zero inside."""
    at, window = drawn_at.astimezone(UTC), order.window
    if at < window.earliest:
        return at - window.earliest
    return max(at - window.latest, timedelta(0))


_LACKS = {
    "trough": "the time of the next dose",
    "peak": "the end of the infusion",
    "peak-or-trough": "the end of the infusion, or the time of the next dose",
    "after-6h": "the time of the last dose",
    "after-12h": "the time of the last dose",
}

_SOONEST = {"stat": 0, "asap": "asap_within_min", "urgent": "urgent_within_min"}


def _by_priority(ordered: Ordered, limits: Mapping[str, Limit]) -> Window:
    """The order's own window; aimed at sooner the more pressing it is (practice TD-12, from memory)."""
    earliest, latest = ordered.due_from.astimezone(UTC), ordered.due_to.astimezone(UTC)
    soonest = _SOONEST.get(ordered.priority)
    if soonest is None:
        return Window(earliest, max(earliest, latest - _minutes(limits, "routine_due_min")), latest)
    wait = timedelta(0) if soonest == 0 else _minutes(limits, str(soonest))
    return Window(earliest, min(earliest + wait, latest), latest)


def _level(ordered: Ordered, limits: Mapping[str, Limit]) -> OrderWindow | None:
    """Practice TD-01 to TD-07: by the dose or the infusion. A level that can be both is a peak after an infusion."""
    timing = ordered.timing
    if timing == "peak-or-trough":
        timing = "peak" if ordered.infusion_end_at is not None else "trough"
    dose = _utc(ordered.dose_at)
    moments = Moments(next_dose_at=dose, last_dose_at=dose, infusion_end_at=_utc(ordered.infusion_end_at))
    window = draw_window(timing, moments, limits)
    return None if window is None else OrderWindow(window=window, follows=timing, is_level=True)


def _after_the_first(ordered: Ordered, after_min: int, limits: Mapping[str, Limit]) -> OrderWindow | None:
    """Practice TD-08 to TD-10: by the minute from the first specimen, or from the first sip."""
    if ordered.first_at is None:
        return None
    follows = "load" if ordered.timing == "load" else "serial"
    aim = ordered.first_at.astimezone(UTC) + timedelta(minutes=after_min)
    slack = _minutes(limits, "load_slack_min" if follows == "load" else "serial_slack_min")
    return OrderWindow(window=Window(aim - slack, aim, aim + slack), follows=follows, is_level=True)


def _morning(ordered: Ordered, zone: tzinfo, limits: Mapping[str, Limit]) -> OrderWindow | None:
    """Practice TD-11: the hours of the ward's morning on the day of the order, as far as the order allows them."""
    earliest, latest = ordered.due_from.astimezone(UTC), ordered.due_to.astimezone(UTC)
    for day in dict.fromkeys(moment.astimezone(zone).date() for moment in (earliest, latest)):
        found = draw_window("morning", Moments(on=day, zone=zone), limits)
        if found is None:
            return None
        first, last = max(found.earliest.astimezone(UTC), earliest), min(found.latest.astimezone(UTC), latest)
        if first <= last:
            return OrderWindow(window=Window(first, first, last), follows="morning", is_level=True)
    return None


def _utc(moment: datetime | None) -> datetime | None:
    return None if moment is None else moment.astimezone(UTC)


def _minutes(limits: Mapping[str, Limit], name: str) -> timedelta:
    return timedelta(minutes=limits[name].value)
