"""Waits for a condition that is really there, for things that cannot call back (a file, another process)."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")

LOOK_EVERY_S = 0.02


class NeverHappened(AssertionError):
    """A condition did not come true in time."""


def wait_until(condition: Callable[[], T], what: str, seconds: float = 20.0) -> T:
    """Give the first true value of `condition`; raises NeverHappened after `seconds`."""
    pause = threading.Event()
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if value := condition():
            return value
        pause.wait(LOOK_EVERY_S)
    raise NeverHappened(f"After {seconds} s still not: {what}")
