"""The window of every order that counts now: the level's own, or the one it came with."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import tzinfo

from bedside.clinical.directory import Directory
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.windows import FIRST_SPECIMEN, OrderWindow, window_of
from bedside.records.order_times import times_of
from bedside.records.tables import Order


def windows_of(orders: Iterable[Order], directory: Directory, book: Rulebook, zone: tzinfo) -> dict[str, OrderWindow]:
    """Each order's window, by order."""
    asked = list(orders)
    times = times_of([order.id for order in asked])
    return {order.id: window_of(times.of(order, _timing(order, directory)), zone, book.limits) for order in asked}


def waits_for_its_first(window: OrderWindow) -> bool:
    """Report whether an order is a later one of a series whose first specimen is not drawn yet."""
    return window.lacks == FIRST_SPECIMEN


def _timing(order: Order, directory: Directory) -> str:
    test = directory.find(order.test)
    return test.timing if test else ""
