"""The incidents of one visit, as its events tell them. Pure.

One opens by itself when blood was drawn with identity unsettled: that is the harm the app exists to
prevent, and nobody should have to think of reporting it. What a correction took back stays in the register as struck:
whoever struck it is not the one to say that nothing happened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedside.clinical import identity
from bedside.clinical.case import Case
from bedside.clinical.events import Event
from bedside.clinical.findings import Finding, Severity
from bedside.clinical.incidents import is_complete
from bedside.clinical.order import as_recorded, latest_corrections
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Visit, replay
from bedside.records.moments import as_text, read_moment
from bedside.sync.arrivals import Arrivals

UNSETTLED = frozenset({"identity-missing", "identity-too-few", "identity-mismatch"})

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A visit's events as they were recorded and as they stand, with the corrections in between."""

    visit: str
    recorded: tuple[Event, ...]
    standing: Mapping[str | None, Event]
    corrections: Mapping[str, Event]
    came: Arrivals

    @classmethod
    def of(cls, visit_id: str, case: Case, visit: Visit, came: Arrivals) -> Log:
        recorded = tuple(as_recorded(case.events))
        standing = {event.id: event for event in visit.events}
        return cls(
            visit=visit_id,
            recorded=recorded,
            standing=standing,
            corrections=latest_corrections(recorded),
            came=came,
        )

    def of_kind(self, kind: str) -> list[Event]:
        """The events of a kind as they were recorded, also those that were struck since."""
        return [event for event in self.recorded if event.kind == kind]

    def is_struck(self, event: Event) -> bool:
        """Report whether a correction says that it did not happen."""
        return event.id not in self.standing

    def strike(self, what: str, event: Event, correction: Event | None = None) -> Row:
        """How an event was taken back, by whom, when and why; `note` is what it had said."""
        by = correction or self.corrections[event.id or ""]
        return {
            "what": what,
            "event": event.id,
            "correction": by.id,
            "by": by.by,
            "at": self.came.at(by),
            "reason": by.data.get("reason") or "",
            "note": event.data.get("note") or "",
        }


def incidents_of(
    visit_id: str, case: Case, visit: Visit, findings: Iterable[Finding], book: Rulebook, came: Arrivals
) -> Iterator[Row]:
    """Every incident of the visit: opened ones with their notes, notes without an opening, the one by itself; the
    struck ones, too.
    """
    log = Log.of(visit_id, case, visit, came)
    opening = log.of_kind("incident_opened")
    opened = {event.id for event in opening}
    noting = [log.standing[event.id] for event in log.of_kind("incident_noted") if not log.is_struck(event)]
    struck_notes = [event for event in log.of_kind("incident_noted") if log.is_struck(event)]
    notes = {event.data.get("opened"): event for event in sorted(noting, key=lambda event: event.place)}
    for event in opening:
        yield _of_opening(log, event, notes.get(event.id), struck_notes)
    for event in noting:
        if event.data.get("opened") not in opened:
            yield _told(log, None, event, [])
    for event in struck_notes:
        if event.data.get("opened") not in opened:
            yield {**_told(log, None, event, [log.strike("note", event)]), "struck": True}
    yield from _unsettled(log, case, visit, findings, book)


def _of_opening(log: Log, event: Event, note: Event | None, struck_notes: Iterable[Event]) -> Row:
    """An opened incident, whether it stands or not; with a note that stands it stands."""
    strikes = [log.strike("note", one) for one in struck_notes if one.data.get("opened") == event.id]
    if not log.is_struck(event):
        return _told(log, log.standing[event.id], note, strikes)
    strikes.insert(0, log.strike("opening", event))
    return {**_told(log, event, note, strikes), "struck": note is None}


def _unsettled(log: Log, case: Case, visit: Visit, findings: Iterable[Finding], book: Rulebook) -> Iterator[Row]:
    """The incident that opens by itself; one that a later correction made vanish stays as struck."""
    drawn = _drawn_unsettled(visit, findings)
    if drawn is not None:
        yield _by_itself(log, drawn)
        return
    put_right = _put_right_afterwards(log, case, book)
    if put_right is not None:
        drawn, correction = put_right
        yield {**_by_itself(log, drawn), "strikes": [log.strike("identity", drawn, correction)], "struck": True}


def _put_right_afterwards(log: Log, case: Case, book: Rulebook) -> tuple[Event, Event] | None:
    """The draw with identity unsettled as it stood before a correction, and that correction; None if there never was.

    Looked for before each run of corrections, so that a mis-tap put right before the needle is nobody's incident.
    """
    for place, event in enumerate(log.recorded):
        is_first = event.kind == "corrected" and (place == 0 or log.recorded[place - 1].kind != "corrected")
        if not is_first:
            continue
        before = replay(replace(case, events=log.recorded[:place]))
        found = [book.finding(one.code, one.severity, one.event_id) for one in identity.marks(before, book)]
        drawn = _drawn_unsettled(before, found)
        if drawn is not None:
            return drawn, event
    return None


def _told(log: Log, opened: Event | None, noted: Event | None, strikes: list[Row]) -> Row:
    first = opened or noted
    assert first is not None
    data = {**(opened.data if opened else {}), **(noted.data if noted else {})}
    return {
        "id": f"i-{first.id}",
        "visit": log.visit,
        "kind": data.get("kind") or "other",
        "severity": data.get("severity") or "unknown",
        "happened_at": _when_told(data.get("at"), noted or first, log.came) or log.came.at(first),
        "opened_event": opened.id if opened else None,
        "noted_event": noted.id if noted else None,
        "by": first.by,
        "steps": list(data.get("steps") or ()),
        "told": data.get("told"),
        "note": data.get("note") or "",
        "complete": noted is not None and is_complete(noted),
        "by_itself": False,
        "strikes": strikes,
        "struck": False,
    }


def _when_told(at: str | None, teller: Event, came: Arrivals) -> str | None:
    """The time somebody wrote down, in UTC; None when it cannot be read as one, or lies after it was told."""
    try:
        told = as_text(read_moment(at)) if at else None
    except (ValueError, OverflowError):
        return None
    return None if told and teller.id in came.ahead and told > came.at(teller) else told


def _drawn_unsettled(visit: Visit, findings: Iterable[Finding]) -> Event | None:
    """The first fill of a container while identity was not settled, or None."""
    stops = [one for one in findings if one.code in UNSETTLED and one.severity is Severity.STOP]
    about = {one.event for one in stops}
    fills = [state.filled for state in visit.tubes.values() if state.filled]
    fills.sort(key=lambda event: event.place)
    named = [event for event in fills if event.id in about]
    if named:
        return named[0]
    is_mismatch = any(one.code == "identity-mismatch" for one in stops)
    return fills[0] if fills and is_mismatch else None


def _by_itself(log: Log, drawn: Event) -> Row:
    return {
        "id": f"i-{log.visit}-identity",
        "visit": log.visit,
        "kind": "wrong_patient",
        "severity": "unknown",
        "happened_at": log.came.at(drawn),
        "opened_event": drawn.id,
        "noted_event": None,
        "by": drawn.by,
        "steps": [],
        "told": None,
        "note": "",
        "complete": False,
        "by_itself": True,
        "strikes": [],
        "struck": False,
    }
