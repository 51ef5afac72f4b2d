"""The order of what happened, out of events that arrived in any order, some of them twice, some corrected."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from bedside.clinical.events import Event, read_data

Queue = list[Event]


def in_order(events: Iterable[Event], steps: Iterable[Event] = ()) -> list[Event]:
    """What happened, first to last, after corrections; each event knows its place. Steps to come stand last.

    Events of one tablet stand by `seq`. Across tablets their queues are merged: always the earliest head by the shared
    clock, then by tablet. A struck event is gone; one placed at another time is a queue of its own.
    """
    given = list(events)
    to_come = list(steps)
    corrections = latest_corrections(as_recorded(given) + to_come)
    stay, moved = _corrected(given, corrections)
    happened = _merged(_queues(stay) + [[event] for event in moved]) + to_come
    return [event.standing_at(place) for place, event in enumerate(happened)]


def as_recorded(events: Iterable[Event]) -> list[Event]:
    """Every event in the order it was recorded, the struck ones and the corrections too, none of them corrected."""
    return _merged(_queues(events))


def _queues(events: Iterable[Event]) -> list[Queue]:
    by_tablet: dict[str, Queue] = {}
    for event in sorted(events, key=lambda event: (event.seq, event.at_ms, event.id or "")):
        by_tablet.setdefault(event.tablet, []).append(event)
    return list(by_tablet.values())


def _merged(queues: Iterable[Queue]) -> list[Event]:
    waiting = [list(queue) for queue in queues if queue]
    merged: list[Event] = []
    while waiting:
        first = min(waiting, key=lambda queue: (queue[0].shared_ms, queue[0].tablet, queue[0].seq, queue[0].id or ""))
        merged.append(first.pop(0))
        waiting = [queue for queue in waiting if queue]
    return merged


def latest_corrections(ordered: Iterable[Event]) -> Mapping[str, Event]:
    """The correction that counts for each event that has one, by the event's id."""
    return {event.data["event"]: event for event in ordered if event.kind == "corrected"}


def _corrected(events: Iterable[Event], corrections: Mapping[str, Event]) -> tuple[list[Event], list[Event]]:
    """The events that keep their place in their tablet's queue, and those that a correction put at another time."""
    stay: list[Event] = []
    moved: list[Event] = []
    for event in events:
        correction = None if event.kind == "corrected" or event.id is None else corrections.get(event.id)
        if correction is None:
            stay.append(event)
            continue
        now = _as_corrected(event, correction)
        if now is not None:
            (moved if "at" in correction.data else stay).append(now)
    return stay, moved


def _as_corrected(event: Event, correction: Event) -> Event | None:
    """The event as its correction leaves it; None when it did not happen."""
    data = correction.data.get("data", event.data)
    if data is None:
        return None
    if "at" in correction.data:
        event = replace(event, at_ms=correction.data["at"], mono_ms=None)
    return replace(event, data=data if data is event.data else read_data(event.kind, data, f"corrected {event.id}"))
