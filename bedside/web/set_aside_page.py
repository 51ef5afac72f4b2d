"""The page of records that found no place, as data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.records.set_aside_now import Aside
from bedside.records.unplanned_visits import REASON
from bedside.web.desk import Desk
from bedside.web.story import plain
from bedside.web.times import local, shown, zone_of
from bedside.web.ward_page import unplaced_sentence

LONGEST_SHOWN = 80
"""Characters of a name a tablet made up that a page shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AsideLine:
    """One record that could not be placed."""

    id: int
    says: str
    reason: str
    facts: tuple[tuple[str, str], ...]
    body: str
    settled: str
    is_unplanned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAsidePage:
    """Every record that could not be placed, the unsettled first."""

    desk: Desk
    headline: str
    open: tuple[AsideLine, ...]
    settled: tuple[AsideLine, ...]
    wrong: str

    @classmethod
    def of(cls, desk: Desk, asides: Sequence[Aside], now: datetime, wrong: str = "") -> SetAsidePage:
        waiting = tuple(_aside_line(aside, now) for aside in asides if not aside.settled_at)
        return cls(
            desk=desk,
            headline=unplaced_sentence(len(waiting)) or "Every record found its place.",
            open=waiting,
            settled=tuple(_aside_line(aside, now) for aside in asides if aside.settled_at),
            wrong=wrong,
        )


def _aside_line(aside: Aside, now: datetime) -> AsideLine:
    zone = zone_of(now)
    facts = [
        ("Reason", plain(aside.reason)),
        ("What it reports", plain(aside.kind) if aside.kind else "cannot be read"),
        ("When, by the tablet", shown_or_raw(aside.at, now, zone)),
        ("By", aside.by or "nobody named"),
        ("Visit", cut(aside.visit or "none named")),
        (
            "Tablet and number",
            f"{cut(aside.tablet or 'unknown')}, {aside.seq if aside.seq is not None else 'none'}",
        ),
        ("Reached the server", shown(local(aside.received_at, zone), now)),
    ]
    settled = ""
    if aside.settled_at:
        at, by = shown(local(aside.settled_at, zone), now), aside.settled_by or "the house"
        settled = f"Settled {at} by {by}: {aside.settled_note}"
    return AsideLine(
        id=aside.id,
        says=aside.says,
        reason=plain(aside.reason),
        facts=tuple(facts),
        body=aside.body or "",
        settled=settled,
        is_unplanned=aside.reason == REASON and not aside.settled_at,
    )


def cut(name: str) -> str:
    """A name a tablet made up, short enough for a line; the whole of it stands in the record as it was sent."""
    return name if len(name) <= LONGEST_SHOWN else f"{name[:LONGEST_SHOWN]}…"


def shown_or_raw(text: str | None, now: datetime, zone: ZoneInfo) -> str:
    """A claimed time for people; what cannot be read as a time is shown as it was written."""
    if not text:
        return "no time given"
    try:
        return shown(local(text, zone), now)
    except ValueError:
        return text
