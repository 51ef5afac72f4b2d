"""Draws whose time matters: open, due, late, too early, missed, and how far beside its window one was drawn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from flask import Blueprint, render_template

from bedside.clinical.windows import DUE, LATE, MISSED, OPEN, TOO_EARLY, OrderWindow, drawn_beside
from bedside.exchange.orders_in import directory_in_force
from bedside.records.directory_now import name_of
from bedside.records.moments import read_moment
from bedside.records.waiting_patients import OrderSeen, orders_around
from bedside.rounds.taking_out import Tools
from bedside.sync.books import book_in_force
from bedside.web.countdown import countdown
from bedside.web.desk import Desk, desk, request_time, zone
from bedside.web.times import shown, spell, window

pages = Blueprint("timed", __name__, url_prefix="/ward/timed")

REFRESH_S = 30
DRAWN, CANCELLED = "drawn", "cancelled"
SORT = {MISSED: 0, LATE: 1, DUE: 2, OPEN: 3, TOO_EARLY: 4, DRAWN: 5, CANCELLED: 6}
MARKS = {MISSED: "failed", LATE: "late", DUE: "carried", OPEN: "to-come", TOO_EARLY: "to-come", DRAWN: "drawn"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedLine:
    """One order: how it stands, and how long that still holds."""

    state: str
    mark: str
    says: str
    steps: str
    patient: str
    name: str
    where: str
    test: str
    when: str
    why: str
    lacks: str
    set_aside: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedPage:
    desk: Desk
    headline: str
    lines: tuple[TimedLine, ...]


@pages.get("/")
def timed() -> str:
    """Every level and every missed draw of the last and the next day; the page counts down by itself."""
    at = request_time()
    tools = Tools(directory=directory_in_force(), book=book_in_force(), zone=zone())
    seen = orders_around(None, at)
    windows = tools.windows([one.order for one in seen])
    lines = [_line(one, windows[one.order.id], tools, at) for one in seen]
    shown_lines = [line for line, one in zip(lines, seen, strict=True) if _matters(line, windows[one.order.id])]
    page = TimedPage(
        desk=desk("Timed draws", at, here="timed.timed", refresh_s=REFRESH_S),
        headline=_headline(shown_lines),
        lines=tuple(sorted(shown_lines, key=lambda line: (SORT[line.state], line.when))),
    )
    return render_template("timed/timed.html", page=page)


def _matters(line: TimedLine, when: OrderWindow) -> bool:
    """A level always, also once it is drawn or sent out again; any other order only while it is late or missed."""
    return when.is_level or bool(when.lacks or line.set_aside) or line.state in (LATE, MISSED)


def _headline(lines: list[TimedLine]) -> str:
    counted = [(state, sum(line.state == state for line in lines)) for state in (MISSED, LATE, DUE)]
    said = ", ".join(f"{number} {state}" for state, number in counted if number)
    return f"Timed draws: {said}." if said else "No timed draw is due, late or missed."


def _line(one: OrderSeen, when: OrderWindow, tools: Tools, at: datetime) -> TimedLine:
    order, patient = one.order, one.order.patient
    state, says, steps = _state(one, when, tools, at)
    start, end = (moment.astimezone(at.tzinfo) for moment in (when.window.earliest, when.window.latest))
    return TimedLine(
        state=state,
        mark=MARKS.get(state, "cancelled"),
        says=says,
        steps=steps,
        patient=patient.id,
        name=patient.name,
        where=f"ward {patient.ward.name}, {patient.room} {patient.bed}".strip(),
        test=name_of(tools.directory, order.test),
        when=window(start, end, at),
        why=when.why,
        lacks=f"Not known: {when.lacks}." if when.lacks else "",
        set_aside=_set_aside(one, when, at),
    )


def _state(one: OrderSeen, when: OrderWindow, tools: Tools, at: datetime) -> tuple[str, str, str]:
    """The word, the sentence and how it goes on; what was drawn beside its window says so for good."""
    if one.collected_at:
        drawn_at = read_moment(one.collected_at)
        says = f"drawn {shown(drawn_at.astimezone(at.tzinfo), at)}{_beside(drawn_beside(when, drawn_at))}"
        return DRAWN, says, ""
    if one.state == CANCELLED:
        return CANCELLED, _cancelled(one, when, at), ""
    counted = countdown(when, at, tools.book.limits)
    return counted.state, counted.says, counted.steps


def _cancelled(one: OrderSeen, when: OrderWindow, at: datetime) -> str:
    """A word after the window's end hides no missed window."""
    cancelled_at = read_moment(one.order.cancelled_at) if one.order.cancelled_at else at
    after = cancelled_at - when.window.latest
    return f"cancelled {spell(after)} after its window was missed" if after > timedelta(0) else "cancelled"


def _set_aside(one: OrderSeen, when: OrderWindow, at: datetime) -> str:
    """What became of a level's own window, once somebody gave another by hand; empty where it has none."""
    if when.own is None:
        return ""
    start, end = (moment.astimezone(at.tzinfo) for moment in (when.own.earliest, when.own.latest))
    drawn_at = read_moment(one.collected_at) if one.collected_at else None
    if drawn_at is not None and when.own.holds(drawn_at):
        return ""
    words = "was missed" if (drawn_at or at) > when.own.latest else "is set aside"
    return f"Sent out again: its own window, {window(start, end, at)}, {words}."


def _beside(by: timedelta) -> str:
    if not by:
        return ", inside its window"
    return f", {spell(-by)} before its window" if by < timedelta(0) else f", {spell(by)} after its window"
