"""What went wrong: is it written down, and completely?"""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, STOP, Severity
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.spaces import is_blank
from bedside.clinical.visit import Visit


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """An incident without a note when the visit ends; a note that lacks when, what was done, who was told or what."""
    opened = {event.id: event for event in visit.of_kind("incident_opened")}
    notes = _latest_notes(visit)
    about = {note.data.get("opened") for note in notes}
    for event in opened.values():
        if visit.ended is not None and event.id not in about:
            yield Mark("incident-note-missing", _severity(event), event)
    for note in notes:
        if not is_complete(note):
            yield Mark("incident-note-incomplete", _severity(note, opened.get(note.data.get("opened"))), note)


def is_complete(note: Event) -> bool:
    """Report whether a note says when, what was done, who was told, and what happened."""
    texts = (note.data.get("at"), note.data.get("told", {}).get("name"), note.data.get("note"))
    return not any(map(is_blank, texts)) and not all(map(is_blank, note.data.get("steps", ())))


def _latest_notes(visit: Visit) -> list[Event]:
    """The last note about each opened incident, and every note that stands alone."""
    latest: dict[str | None, Event] = {}
    for note in visit.of_kind("incident_noted"):
        latest[note.data.get("opened") or f"alone {note.place}"] = note
    return list(latest.values())


def _severity(event: Event, opened: Event | None = None) -> Severity:
    """A needlestick is washed and reported first: its note is asked for and holds nobody back."""
    kind = event.data.get("kind") or (opened.data.get("kind") if opened else None)
    return ASK if kind == "needlestick" else STOP
