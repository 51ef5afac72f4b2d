"""How an order's window stands, in words that keep counting: the page says it, a small script says it anew."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from bedside.clinical.limits import Limit
from bedside.clinical.windows import DUE, LATE, MISSED, OPEN, TOO_EARLY, OrderWindow, stands
from bedside.records.asked_orders import Asked
from bedside.records.moments import as_text
from bedside.records.ward_now import Stop
from bedside.web.order_words import NameOf
from bedside.web.times import spell

WAITS = ("pending", "out", "held")
"""States of an order whose window still counts down."""

SAYS = {
    TOO_EARLY: "too early: opens in {}",
    OPEN: "open: {} left",
    DUE: "due now: {} left",
    LATE: "late by {}",
    MISSED: "missed {} ago",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Countdown:
    """A window's word, its sentence now, and `steps` as JSON: what the sentence becomes as time goes on."""

    state: str
    says: str
    steps: str
    test: str = ""
    why: str = ""


def countdown(when: OrderWindow, at: datetime, limits: Mapping[str, Limit]) -> Countdown:
    """How this window stands at this moment, and from then on."""
    state = stands(when, at, limits)
    turn = _turn(when, state)
    return Countdown(
        state=state,
        says=SAYS[state].format(spell(abs(turn - at))),
        steps=json.dumps({"now": as_text(at), "steps": list(_steps(when, limits))}),
    )


def _turn(when: OrderWindow, state: str) -> datetime:
    """The end of the window, or its beginning while that is still to come: what is counted to or from."""
    return when.window.earliest if state == TOO_EARLY else when.window.latest


def _steps(when: OrderWindow, limits: Mapping[str, Limit]) -> Iterable[dict[str, str | None]]:
    """Each word that is still to come with the last moment it holds; the last one holds for good."""
    window = when.window
    grace = timedelta(minutes=0 if when.is_level else limits["missed_after_min"].value)
    ends = {TOO_EARLY: window.earliest, OPEN: window.aim, DUE: window.latest, LATE: window.latest + grace}
    for state in (TOO_EARLY, OPEN, DUE, LATE, MISSED):
        until = ends.get(state)
        yield {
            "state": state,
            "until": as_text(until) if until else None,
            "turn": as_text(_turn(when, state)),
            "says": SAYS[state],
        }


def in_its_window(stop: Stop, windows: Mapping[str, OrderWindow]) -> Stop:
    """The stop with each level's own window in place of the one it was ordered with."""
    return replace(stop, orders=tuple(_in_its_window(order, windows.get(order.id)) for order in stop.orders))


def _in_its_window(order: Asked, when: OrderWindow | None) -> Asked:
    if when is None or not when.is_level:
        return order
    return replace(order, due_from=as_text(when.window.earliest), due_to=as_text(when.window.latest))


def counting(
    stop: Stop, windows: Mapping[str, OrderWindow], at: datetime, limits: Mapping[str, Limit], name_of: NameOf
) -> tuple[Countdown, ...]:
    """A countdown for each window of the stop that still waits, levels by name; the others together."""
    found: dict[tuple[object, ...], Countdown] = {}
    for order in stop.orders:
        when = windows.get(order.id)
        if when is None or order.state not in WAITS:
            continue
        test = name_of(order.test) if when.is_level else ""
        counted = replace(countdown(when, at, limits), test=test, why=when.why if when.is_level else "")
        found.setdefault((test, when.window), counted)
    return tuple(found.values())
