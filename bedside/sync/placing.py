"""Which events of a visit count, and which are set aside with what reason. Pure.

Looked at anew whenever an event of the visit arrives, over all of them at once, so that the order of arrival
does not matter: an event about a tube that nobody had announced finds its place when the announcement comes.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from bedside.clinical.bad_input import BadInput, UnknownKind, UnknownTube
from bedside.clinical.events import Event, read_event
from bedside.clinical.strict_json import KeyTwice, refuse_repeats
from bedside.sync.wire import LONGEST_ID

NAMES = ("visit", "by", "kind", "page", "rulebook")
"""Keys of a body that name something, so that a page shows them or a table is looked up by them."""

SAYS = {
    "no-event": "A tablet sent something that is no event.",
    "id-reused": "Another record came under the id of this one. Both are kept; the first one counts.",
    "number-taken": "Two different records carry the same number of the same tablet. The first one counts.",
    "revoked-tablet": "It came from a tablet that was taken out of use.",
    "not-signed": "It names an enrolled tablet, but that tablet did not sign it.",
    "sealed": "It is sealed, and this house cannot open it.",
    "unreadable": "Its body cannot be read.",
    "too-long": f"One of its names has more than {LONGEST_ID} characters; no tablet of this house makes such names.",
    "unknown-kind": "It reports a kind of event this release does not know.",
    "bad-value": "One of its values cannot be used.",
    "unknown-visit": "It speaks of a visit this house does not know.",
    "unknown-tube": "It speaks of a tube nobody has announced.",
    "does-not-fit": "It does not fit the other events of its visit.",
}
"""Every reason to set something aside, in the words a person reads."""


class Told(Protocol):
    """What placing needs of an event that is kept."""

    @property
    def id(self) -> str: ...
    @property
    def tablet(self) -> str: ...
    @property
    def seq(self) -> int: ...
    @property
    def body(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """Why an event is set aside: a code of `SAYS`, and the sentence, with the detail where there is one."""

    reason: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """The events of a visit that count, as `read_case` takes them, and those set aside, by id."""

    raw: tuple[dict[str, Any], ...]
    aside: Mapping[str, Aside]


def aside(reason: str, detail: object = "") -> Aside:
    """A reason with its sentence."""
    return Aside(reason=reason, says=f"{SAYS[reason]} {detail}".strip())


def open_body(told: Told) -> dict[str, Any] | Aside:
    """A body's keys together with id, tablet and seq, or why it cannot be read."""
    try:
        body = json.loads(told.body, parse_constant=_refuse_constant, object_pairs_hook=refuse_repeats)
        # Half a surrogate pair passes as JSON, but is no character and cannot be kept anywhere.
        json.dumps(body, ensure_ascii=False).encode()
    except KeyTwice as error:
        return aside("unreadable", f"It can mean two things: {error}.")
    except (ValueError, RecursionError) as error:
        return aside("unreadable", f"({type(error).__name__})")
    if not isinstance(body, dict):
        return aside("unreadable", "(it is no object)")
    long = next((name for name in NAMES if isinstance(body.get(name), str) and len(body[name]) > LONGEST_ID), None)
    if long:
        return aside("too-long", f"(its {long} has {len(body[long])} characters)")
    return {**body, "id": told.id, "tablet": told.tablet, "seq": told.seq}


def read_told(told: Told) -> tuple[dict[str, Any], Event] | Aside:
    """An event by itself: its raw keys and its reading, or why it cannot be read."""
    raw = open_body(told)
    if isinstance(raw, Aside):
        return raw
    try:
        return raw, read_event(raw)
    except UnknownKind as error:
        return aside("unknown-kind", f"({error.value})")
    except BadInput as error:
        return aside("bad-value", f"({error})")
    except (ValueError, OverflowError, RecursionError) as error:
        # A number no machine counts with, or a date outside the calendar.
        return aside("bad-value", f"({type(error).__name__})")


def place(events: Iterable[Told], tubes: frozenset[str], fits: Callable[[list[dict[str, Any]]], None]) -> Placing:
    """Sort a visit's events into those that count and those that do not.

    tubes: the ids of the planned containers. fits: raises BadInput when events that are each readable make
    no case together; then they are tried one after the other, by tablet and number, and the ones that break
    it go aside.
    """
    asides: dict[str, Aside] = {}
    readable: list[tuple[dict[str, Any], Event]] = []
    for told in sorted(events, key=lambda one: (one.tablet, one.seq, one.id)):
        found = read_told(told)
        if isinstance(found, Aside):
            asides[told.id] = found
        else:
            readable.append(found)
    known = tubes | {event.data["tube"] for _, event in readable if event.kind == "tube_added"}
    counted: list[dict[str, Any]] = []
    for raw, event in readable:
        tube = event.data.get("tube")
        if tube is not None and tube not in known:
            asides[raw["id"]] = aside("unknown-tube")
        else:
            counted.append(raw)
    return _fitting(counted, asides, fits)


def _fitting(
    counted: list[dict[str, Any]], asides: dict[str, Aside], fits: Callable[[list[dict[str, Any]]], None]
) -> Placing:
    try:
        fits(counted)
    except BadInput:
        counted = _one_by_one(counted, asides, fits)
    return Placing(raw=tuple(counted), aside=asides)


def _one_by_one(
    counted: list[dict[str, Any]], asides: dict[str, Aside], fits: Callable[[list[dict[str, Any]]], None]
) -> list[dict[str, Any]]:
    """Corrections last, so that what they correct stands already.

    Halves are tried before single events: one event that breaks a visit of 500 costs some 20 tries, not 500.
    """
    kept: list[dict[str, Any]] = []
    order = sorted(counted, key=lambda raw: (raw["kind"] != "tube_added", raw["kind"] == "corrected"))
    waiting = [order]
    while waiting:
        some = waiting.pop()
        try:
            fits([*kept, *some])
        except BadInput as error:
            if len(some) > 1:
                half = len(some) // 2
                waiting += [some[half:], some[:half]]
            else:
                asides[some[0]["id"]] = _why_not(error)
        else:
            kept += some
    return kept


def _why_not(error: BadInput) -> Aside:
    return aside("unknown-tube") if isinstance(error, UnknownTube) else aside("does-not-fit", f"({error})")


def _refuse_constant(name: str) -> None:
    """Infinity and NaN are no JSON, and no measure of anything."""
    raise ValueError(name)
