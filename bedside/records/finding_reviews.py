"""Findings that waited for a person, and what the person said. Rows are added, never changed; the latest counts."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit, identity_decisions
from bedside.records.database import writing
from bedside.records.event_log import told_by
from bedside.records.moments import as_text
from bedside.records.tables import Event, FindingNow, FindingReview, Person

RESTRICTED_WHILE_AWAY = "restricted-while-away"
"""Not a finding of the rules: a question the ward's page asks, settled in the same way."""

LATER, EARLIER = "later", "earlier"

DECISIONS: dict[str, dict[str, str]] = {
    "drawn-twice": {EARLIER: "the earlier draw counts", LATER: "this later draw counts"},
    "drawn-after-cancel": {
        "kept": "the blood is kept, by word of the laboratory",
        "discarded": "the blood is discarded",
    },
}
"""What has to be decided before these can be settled: the words by code. Blood drawn while identity was unsettled is
decided about in `identity_decisions`; the others are settled with a note alone.
"""

Key = tuple[str, str, str | None]
"""A finding as a review names it: visit, code, event."""


class FindingReviewRefused(ValueError):
    """The finding cannot be settled as asked; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """How a finding was settled. decides: the decision in words, empty where none was asked for."""

    key: Key
    by: str
    at: str
    decides: str
    note: str


def settle(key: Key, decision: str, note: str, *, by: str, at: datetime) -> None:
    """Settle a finding that stands. Call inside `writing()` together with restating the visit's orders.

    Raises FindingReviewRefused without a note, without the decision its code asks for, for a finding that stands no
    more, and for one that is settled already.
    """
    visit, code, event = key
    _refuse_if(not note.strip(), "Say what was found out or decided: whoever looks next cannot see it otherwise.")
    words = DECISIONS.get(code, {})
    _refuse_if(bool(words) and decision not in words, f"Choose first: {', or '.join(words.values())}.")
    _refuse_if(not words and bool(decision), "This question asks for a note alone. Load the page again.")
    with writing():
        _refuse_if(not _stands(key), "This question does not stand any more. Load the page again.")
        _refuse_if(key in settled_of({visit}), "This is settled already. Load the page again to read how.")
        FindingReview.create(
            visit=visit, code=code, event=event, decision=decision, note=note.strip(), by=by, at=as_text(at)
        )
        audit.write(who=by, action=f"finding settled: {code}", object=visit, result=decision or "seen", at=at)


def settled_of(visits: Collection[str]) -> dict[Key, Settled]:
    """What was said to the findings of these visits."""
    rows = FindingReview.select(FindingReview, Person).join(Person).where(FindingReview.visit << list(visits))
    return {_key(row): _settled(row) for row in rows.order_by(FindingReview.id)}


def draws_that_count(visits: Collection[str]) -> frozenset[str]:
    """The containers of the later draws a person said count, where an order was drawn twice."""
    rows = FindingReview.select().where((FindingReview.visit << list(visits)) & (FindingReview.code == "drawn-twice"))
    latest = {_key(row): row for row in rows.order_by(FindingReview.id)}
    events = [row.event for row in latest.values() if row.decision == LATER and row.event]
    told = told_by(list(Event.select().where(Event.id << events)))
    return frozenset(tube for body in told.values() if (tube := _tube_in(body)) is not None)


def discarded_after_cancel(visits: Collection[str]) -> frozenset[str]:
    """The visits of which a person said that what they drew for cancelled orders is discarded."""
    after_cancel = (FindingReview.visit << list(visits)) & (FindingReview.code == "drawn-after-cancel")
    latest = {_key(row): row for row in FindingReview.select().where(after_cancel).order_by(FindingReview.id)}
    return frozenset(row.visit_id for row in latest.values() if row.decision == "discarded")


def _stands(key: Key) -> bool:
    visit, code, event = key
    if code == RESTRICTED_WHILE_AWAY:
        return Event.select().where((Event.id == event) & (Event.visit == visit)).exists()
    same_event = FindingNow.event.is_null() if event is None else FindingNow.event == event
    return FindingNow.select().where((FindingNow.visit == visit) & (FindingNow.code == code) & same_event).exists()


def _settled(row: FindingReview) -> Settled:
    return Settled(
        key=_key(row),
        by=row.by.name,
        at=row.at,
        decides={**identity_decisions.WORDS, **DECISIONS.get(row.code, {})}.get(row.decision, row.decision),
        note=row.note,
    )


def _key(row: FindingReview) -> Key:
    return row.visit_id, row.code, row.event


def _tube_in(body: str) -> str | None:
    """The container an event names; None where its body cannot be read."""
    try:
        data = json.loads(body).get("data") or {}
    except (ValueError, AttributeError):
        return None
    tube = data.get("tube")
    return tube if isinstance(tube, str) else None


def _refuse_if(is_so: bool, says: str) -> None:
    if is_so:
        raise FindingReviewRefused(says)
