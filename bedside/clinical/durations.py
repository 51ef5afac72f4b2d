"""How long something lasted, between two events whose clocks may disagree. All in seconds, never negative."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bedside.clinical.events import Event
from bedside.clinical.rulebook import Rulebook

MS_PER_S = 1000


@dataclass(frozen=True, slots=True)
class Span:
    """A time between two events as both clocks tell it, in seconds; `mono_s` is None where only the wall clock ran."""

    wall_s: float
    mono_s: float | None
    book: Rulebook

    @property
    def parted(self) -> bool:
        """Report whether the two clocks tell times so different that the device must have slept or been set."""
        return self.mono_s is not None and abs(self.wall_s - self.mono_s) > self.book.value("clocks_part_s")

    @property
    def longer_s(self) -> float:
        """For what must not last: the tourniquet."""
        return self._told(max(self.wall_s, self.mono_s or 0))

    @property
    def shorter_s(self) -> float:
        """For what must last: pressure, rest, drying."""
        return self._told(min(self.wall_s, self.mono_s or 0))

    def _told(self, when_parted: float) -> float:
        if self.mono_s is None:
            return self.wall_s
        return when_parted if self.parted else self.mono_s


def between(first: Event, last: Event, book: Rulebook) -> Span:
    """The time from one event to a later one. The step to come is on the clock of the event it is compared with."""
    one_clock = first.tablet == last.tablet or last.is_next
    wall_ms = last.at_ms - first.at_ms if one_clock else last.shared_ms - first.shared_ms
    return Span(_seconds(wall_ms), _mono_s(first, last), book)


def until(first: Event, now_ms: int, book: Rulebook) -> Span:
    """The time from an event until now, which is on that event's clock."""
    return Span(_seconds(now_ms - first.at_ms), None, book)


def _mono_s(first: Event, last: Event) -> float | None:
    if first.mono_ms is None or last.mono_ms is None:
        return None
    if first.tablet != last.tablet or first.page != last.page:
        return None
    return _seconds(last.mono_ms - first.mono_ms)


def _seconds(ms: float) -> float:
    return max(ms, 0) / MS_PER_S


def to_the_millisecond(seconds: float | None) -> float | None:
    """A time in s as it is told: whole milliseconds."""
    return None if seconds is None else math.floor(seconds * MS_PER_S + 0.5) / MS_PER_S


def skew_s(event: Event) -> float:
    """How far the server's clock and the tablet's part, in s."""
    return abs(event.skew_ms) / MS_PER_S
