"""What a tablet sends, read without trust: every item becomes an event or a reason why it is none. Pure."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LARGEST_NUMBER = 2**53 - 1
"""JavaScript counts no further without skipping."""


LONGEST_ID = 200
"""Characters of an id or a name. What tablets make themselves is a fifth of it; longer ones break pages and indexes."""


class BatchUnreadable(ValueError):
    """The whole request has not the agreed shape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One event as it came over the wire; `text` is the body, or the sealed body where `sealed`."""

    id: str
    tablet: str
    seq: int
    text: str
    sealed: bool = False

    @property
    def hash(self) -> str:
        return hash_of(self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoEvent:
    """An item that is no event; kept as the text it was."""

    id: str | None
    text: str
    says: str

    @property
    def hash(self) -> str:
        return hash_of(self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One request of a tablet: what it sent, in its order; its own verdicts; the audit head it holds."""

    house: str | None
    tablet: str | None
    items: tuple[Sent | NoEvent, ...]
    verdicts: Mapping[str, list[list[Any]]]
    head: Mapping[str, Any] | None


def read_batch(raw: object) -> Batch:
    """Read a request's JSON.

    Raises BatchUnreadable when it is no object or holds no list of events: then no event can be told apart.
    """
    if not isinstance(raw, dict) or not isinstance(raw.get("events"), list):
        raise BatchUnreadable("The request holds no list named `events`.")
    return Batch(
        house=_text(raw.get("house")),
        tablet=_text(raw.get("tablet")),
        items=tuple(read_item(item) for item in raw["events"]),
        verdicts=_verdicts(raw.get("verdicts")),
        head=raw["head"] if isinstance(raw.get("head"), dict) else None,
    )


def read_item(item: object) -> Sent | NoEvent:
    """One item of the list: an event, or what is wrong with it."""
    if not isinstance(item, dict):
        return _none(item, None, "It is not an object with id, tablet, seq and body.")
    event = _text(item.get("id"))
    body, sealed = _text(item.get("body")), _text(item.get("sealed"))
    fault = _fault(event, item, body if body is not None else sealed)
    if fault:
        return _none(item, event, fault)
    text = body if body is not None else sealed
    return Sent(id=str(event), tablet=item["tablet"], seq=item["seq"], text=str(text), sealed=body is None)


def _fault(event: str | None, item: Mapping[str, Any], text: str | None) -> str | None:
    seq = item.get("seq")
    if not event:
        return "It has no id."
    if not _text(item.get("tablet")):
        return "It names no tablet."
    if max(len(event), len(item["tablet"])) > LONGEST_ID:
        return f"Its id or its tablet has more than {LONGEST_ID} characters."
    if isinstance(seq, bool) or not isinstance(seq, int) or not 0 <= seq <= LARGEST_NUMBER:
        return "Its number in the tablet's row is missing or no whole number."
    if text is None:
        return "It has no body."
    return None


def hash_of(text: str) -> str:
    """`sha256:` and the hex digest of a text's UTF-8 bytes."""
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def _none(item: object, event: str | None, says: str) -> NoEvent:
    return NoEvent(id=event or None, text=json.dumps(item, sort_keys=True), says=says)


def _text(value: object) -> str | None:
    """A text that can be kept: half a surrogate pair is no character and cannot be written as UTF-8."""
    if not isinstance(value, str):
        return None
    try:
        value.encode()
    except UnicodeEncodeError:
        return None
    return value


def _verdicts(raw: object) -> dict[str, list[list[Any]]]:
    """The tablet's own verdicts by visit, as sorted triples of code, severity and event; bad ones
    are left out.
    """
    if not isinstance(raw, dict):
        return {}
    lists = {visit: rows for visit, rows in raw.items() if isinstance(rows, list)}
    return {visit: sorted(filter(_is_triple, rows), key=repr) for visit, rows in lists.items()}


def _is_triple(row: object) -> bool:
    return isinstance(row, list) and len(row) == 3 and all(one is None or _text(one) is not None for one in row)
