"""A visit's events as lines of a story: time, sentence, what the rules found beside it, corrections."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bedside.clinical.containers import CONTAINERS
from bedside.clinical.rulebook import Rulebook, default_book
from bedside.records.moments import read_moment
from bedside.records.questions import Found
from bedside.records.visit_stories import Told, VisitStory
from bedside.web.container_words import container_name
from bedside.web.counting import listed
from bedside.web.story import tell
from bedside.web.times import local, shown
from bedside.web.waiting import in_words, settled_sentence, what_was_settled

HEAVY = frozenset(
    {"arrived", "needle_in", "needle_out", "incident_opened", "incident_noted", "went_ahead", "visit_ended"}
)
"""Where a reader's eye lands when running down a story."""

LATE_ARRIVAL = timedelta(minutes=10)

AHEAD = timedelta(seconds=default_book().value("clock_off_s"))
"""A claim further ahead of its arrival than this is remarked on beside the entry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A finding beside the event it names, and how somebody settled it; `settled` is empty while nobody has."""

    severity: str
    says: str
    do_next: str
    settled: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line. weight: `heavy` or `plain`; is_struck: a correction says it did not happen."""

    at: str
    says: str
    weight: str
    is_struck: bool
    remark: str
    found: tuple[Beside, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Retold:
    """A visit's story. found: findings that belong to no single event. delivery: if it came in late.

    settled: what persons said to questions no finding stands for any more, as (about what, how).
    """

    lines: tuple[Line, ...]
    found: tuple[Beside, ...]
    settled: tuple[tuple[str, str], ...]
    people: str
    delivery: str


def retell(story: VisitStory, now: datetime, zone: ZoneInfo, book: Rulebook) -> Retold:
    """Tell a visit's events in the order they happened, each with the findings that name it."""
    bodies = {told.id: _data(told.body) for told in story.events}
    corrections = {event: bodies[by] for event, by in story.corrected_by.items() if isinstance(bodies.get(by), Mapping)}
    is_past = story.now is not None and bool(story.now.ended_at or story.now.needles)
    names = tube_names(story.tubes, bodies.values())
    beside: dict[str | None, list[Beside]] = defaultdict(list)
    for found in story.findings:
        beside[found.event if found.event in bodies else None].append(_beside(found, now, zone, book, is_past=is_past))
    standing = {found.settled.key for found in story.findings if found.settled}
    people = list(dict.fromkeys(told.by for told in story.events))
    return Retold(
        lines=tuple(
            _line(told, bodies[told.id], corrections.get(told.id), names, beside[told.id], now, zone, people)
            for told in story.events
        ),
        found=tuple(beside[None]),
        settled=tuple(
            (what_was_settled(one), settled_sentence(one, now, zone))
            for one in story.settled
            if one.key not in standing
        ),
        people=", ".join(people),
        delivery=" ".join(part for part in (_brought(story.events), _delivery(story.events, now, zone)) if part),
    )


def _beside(found: Found, now: datetime, zone: ZoneInfo, book: Rulebook, *, is_past: bool) -> Beside:
    settled = settled_sentence(found.settled, now, zone) if found.settled else ""
    says, do_next = in_words(found, book, is_past=is_past)
    return Beside(severity=found.severity, says=says, do_next=do_next, settled=settled)


def tube_names(tubes: Iterable[tuple[str, int, str]], added: Iterable[Any] = ()) -> dict[str, str]:
    """Tubes as people call them: "tube 2, serum gel"; one added at the bedside by its kind alone."""
    names = {
        data["tube"]: container_name(data["kind"])
        for data in added
        if isinstance(data, Mapping) and data.get("tube") and data.get("kind") in CONTAINERS
    }
    return names | {tube: f"tube {position}, {container_name(kind)}" for tube, position, kind in tubes}


def _line(
    told: Told,
    data: Any,
    correction: Mapping[str, Any] | None,
    names: Mapping[str, str],
    found: Sequence[Beside],
    now: datetime,
    zone: ZoneInfo,
    people: Sequence[str],
) -> Line:
    says = "Sealed to the server: it cannot be read here." if data is None else tell(told.kind, data, names)
    return Line(
        at=_time(told.at, now, zone),
        says=says,
        weight="heavy" if told.kind in HEAVY else "plain",
        is_struck=correction is not None and "data" in correction and correction["data"] is None,
        remark="; ".join(_remarks(told, correction, names, people)),
        found=tuple(found),
    )


def _remarks(
    told: Told, correction: Mapping[str, Any] | None, names: Mapping[str, str], people: Sequence[str]
) -> list[str]:
    remarks = []
    if correction is not None:
        remarks.append(f"corrected later: {correction.get('reason') or 'no reason given'}")
        if isinstance(correction.get("data"), Mapping):
            remarks.append(f"it now reads: {tell(told.kind, correction['data'], names)}")
    if is_ahead(told):
        remarks.append("the tablet's clock says later than it arrived")
    if len(people) > 1:
        remarks.append(told.by)
    return remarks


def _time(text: str, now: datetime, zone: ZoneInfo) -> str:
    try:
        at = local(text, zone)
    except ValueError:
        return text
    return f"{at:%H:%M:%S}" if at.date() == now.date() else f"{shown(at, now)}:{at:%S}"


def _data(body: str) -> Any:
    """The data of an event's body, or None where the body cannot be read."""
    try:
        read = json.loads(body)
    except ValueError:
        return None
    return (read.get("data") or {}) if isinstance(read, dict) else None


def _brought(events: Sequence[Told]) -> str:
    """Under whose session the entries came in, where that is not the person they name."""
    names = list(dict.fromkeys(told.brought_by for told in events if told.brought_by))
    if not names:
        return ""
    number = sum(1 for told in events if told.brought_by)
    share = "All of it" if number == len(events) else f"{number} of {len(events)} entries"
    tablets = list(dict.fromkeys(told.tablet for told in events if told.brought_by))
    return f"{share} came in under the session of {listed(names)}, from tablet {listed(tablets)}."


def _delivery(events: Sequence[Told], now: datetime, zone: ZoneInfo) -> str:
    """Say when it reached the server, if that was noticeably later than it happened."""
    late = [told for told in events if _delay(told) > LATE_ARRIVAL]
    if not late:
        return ""
    last = max(told.received_at for told in late)
    share = "all of it" if len(late) == len(events) else f"{len(late)} of {len(events)} entries"
    return f"Recorded away from the network: {share} reached the server by {shown(local(last, zone), now)}."


def is_ahead(told: Told) -> bool:
    """Report whether an entry claims a time after it reached the server, beyond what clocks part by."""
    return _delay(told) < -AHEAD


def _delay(told: Told) -> timedelta:
    try:
        return read_moment(told.received_at) - read_moment(told.at)
    except ValueError:
        return timedelta(0)
