"""When things happened, as far as it can be believed: no tablet can tell of what happens after it told. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from bedside.clinical.events import Event
from bedside.clinical.rulebook import Rulebook
from bedside.records.moments import as_text, read_moment

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST_MS, LAST_MS = -62135596800000, 253402300799999
"""The first and last millisecond a calendar date can name."""


def moment(ms: float) -> str:
    """Milliseconds since 1970 as the house writes times; what no calendar holds becomes its first or last day."""
    held = min(max(ms, FIRST_MS), LAST_MS)
    return as_text(EPOCH + timedelta(milliseconds=int(held)))


def arrived_ms(received_at: str | None) -> float | None:
    """A time of the house as milliseconds since 1970."""
    return None if received_at is None else (read_moment(received_at) - EPOCH) / timedelta(milliseconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrivals:
    """`ahead`: events that claim a later time than they arrived at, by id, with the ms of their arrival.

    Such a claim stays in the record as it was made; the desks sort by the arrival.
    """

    ahead: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, events: Iterable[Event], arrived: Mapping[str, float], book: Rulebook) -> Arrivals:
        """arrived: ms of the arrival of every event of the visit. An event that a correction put at another time is
        measured against the visit's last arrival.
        """
        limit_ms = book.value("clock_off_s") * 1000
        last = max(arrived.values(), default=0.0)
        ahead = {}
        for event in events:
            came = last if event.mono_ms is None else arrived.get(event.id or "", last)
            if arrived and event.id and event.shared_ms > came + limit_ms:
                ahead[event.id] = came
        return cls(ahead=ahead)

    def ms(self, event: Event) -> float:
        """When an event happened, on the house's clock."""
        return self.ahead.get(event.id or "", event.shared_ms)

    def at(self, event: Event) -> str:
        """The same, as the house writes times."""
        return moment(self.ms(event))
