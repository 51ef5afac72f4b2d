"""An order in a charge nurse's words: how it stands, why, how pressing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.records.asked_orders import Asked
from bedside.web.standing import missed_words
from bedside.web.story import plain, told_whom
from bedside.web.times import local, shown
from bedside.web.waiting import came_back_sentence

NameOf = Callable[[str], str]
"""Gives a test's name by its code."""

ORDER_STATES = {
    "pending": "pending",
    "out": "on the way",
    "underway": "at the bedside now",
    "collected": "collected",
    "in_question": "blood drawn, but it was not settled whose: waits for your decision",
    "not_collected": "not obtained",
    "held": "held",
    "cancelled": "cancelled",
}


PRIORITY_WORDS = {"stat": "STAT", "asap": "as soon as possible", "urgent": "urgent", "routine": ""}


def order_says(order: Asked, now: datetime, zone: ZoneInfo) -> str:
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
