"""Events of the log, read as what happened; one that cannot be read is left out. In order, as everywhere else."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable

from bedside.clinical.bad_input import BadInput
from bedside.clinical.events import Event as Happened
from bedside.clinical.events import read_event
from bedside.clinical.order import as_recorded, in_order
from bedside.records.event_log import told_by
from bedside.records.tables import Event, SetAside


def counted_rows(visits: Collection[str], kinds: Collection[str] = ()) -> list[Event]:
    """The events of these visits that count, of these kinds alone where any are named; still set aside is left out."""
    aside = SetAside.select(SetAside.event).where(SetAside.placed_at.is_null(), SetAside.event.is_null(False))
    rows = Event.select().where(Event.visit << list(visits), Event.id.not_in(aside))
    return list(rows.where(Event.kind << list(kinds)) if kinds else rows)


def read_rows(rows: Collection[Event]) -> dict[str, Happened]:
    """What each of these events says, by its id."""
    told = told_by(rows)
    found = ((row.id, _read(row, told.get(row.id))) for row in rows)
    return {event: happened for event, happened in found if happened is not None}


def standing(happened: Iterable[Happened]) -> list[Happened]:
    """What happened, first to last, after corrections; the corrections themselves are left out."""
    return [event for event in in_order(happened) if event.kind != "corrected"]


def order_of_telling(happened: Iterable[Happened]) -> list[str]:
    """The ids of these events as they are told: each where it happened, a struck one after what came before it."""
    given = list(happened)
    places = {event.id or "": event.place for event in in_order(given)}
    last = -1
    keys: dict[str, tuple[int, int]] = {}
    for step, event in enumerate(as_recorded(given)):
        last = places.get(event.id or "", last)
        keys[event.id or ""] = (last, step)
    return sorted(keys, key=keys.__getitem__)


def _read(row: Event, body: str | None) -> Happened | None:
    try:
        told = json.loads(body or "")
        return read_event({**told, "id": row.id, "tablet": row.tablet, "seq": row.seq})
    except (BadInput, ValueError, TypeError, OverflowError, RecursionError):
        return None
