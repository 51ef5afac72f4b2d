"""The incidents of one visit, as its events tell them. Pure.

One opens by itself when blood was drawn with identity unsettled: that is the harm the app exists to
prevent, and nobody should have to think of reporting it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from bedside.clinical.events import Event
from bedside.clinical.findings import Finding, Severity
from bedside.clinical.incidents import is_complete
from bedside.clinical.visit import Visit
from bedside.records.moments import as_text, read_moment

UNSETTLED = frozenset({"identity-missing", "identity-too-few", "identity-mismatch"})

Row = dict[str, Any]


def incidents_of(
    visit_id: str, visit: Visit, findings: Iterable[Finding], moment: Callable[[float], str]
) -> Iterator[Row]:
    """Every incident of the visit: opened ones with their notes, notes without an opening, the one
    by itself.
    """
    opening, noting = visit.of_kind("incident_opened"), visit.of_kind("incident_noted")
    notes = {event.data.get("opened"): event for event in noting}
    opened = {event.id for event in opening}
    for event in opening:
        yield _told(visit_id, event, notes.get(event.id), moment)
    for event in noting:
        if event.data.get("opened") not in opened:
            yield _told(visit_id, None, event, moment)
    drawn = _drawn_unsettled(visit, findings)
    if drawn is not None:
        yield _by_itself(visit_id, drawn, moment)


def _told(visit_id: str, opened: Event | None, noted: Event | None, moment: Callable[[float], str]) -> Row:
    first = opened or noted
    assert first is not None
    data = {**(opened.data if opened else {}), **(noted.data if noted else {})}
    return {
        "id": f"i-{first.id}",
        "visit": visit_id,
        "kind": data.get("kind") or "other",
        "severity": data.get("severity") or "unknown",
        "happened_at": _when_told(data.get("at")) or moment(first.shared_ms),
        "opened_event": opened.id if opened else None,
        "noted_event": noted.id if noted else None,
        "by": first.by,
        "steps": list(data.get("steps") or ()),
        "told": data.get("told"),
        "note": data.get("note") or "",
        "complete": noted is not None and is_complete(noted),
        "by_itself": False,
    }


def _when_told(at: str | None) -> str | None:
    """The time somebody wrote down, in UTC; None when it cannot be read as one."""
    try:
        return as_text(read_moment(at)) if at else None
    except (ValueError, OverflowError):
        return None


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


def _by_itself(visit_id: str, drawn: Event, moment: Callable[[float], str]) -> Row:
    return {
        "id": f"i-{visit_id}-identity",
        "visit": visit_id,
        "kind": "wrong_patient",
        "severity": "unknown",
        "happened_at": moment(drawn.shared_ms),
        "opened_event": drawn.id,
        "noted_event": None,
        "by": drawn.by,
        "steps": [],
        "told": None,
        "note": "",
        "complete": False,
        "by_itself": True,
    }
