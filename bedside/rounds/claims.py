"""Two tablets, one bed: whoever comes first has it, for as long as it is heard from.

A claim is a courtesy between tablets that reach the house. It refuses no event: what was done at a bedside is kept
whoever had claimed it, and the same order drawn twice is found when the events meet (`drawn-twice`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records import claims
from bedside.records.claims import Claimed
from bedside.records.moments import as_text
from bedside.records.visit_facts import known_visits

LEASE = timedelta(minutes=10)
"""A tablet that was not heard from for so long may be anywhere: the bed is free to be asked for (our own choice, no
source).
"""


class BedUnknown(ValueError):
    """There is no such visit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A tablet wants to begin at a bed."""

    visit: str
    tablet: str
    by: str | None


def after_asking(held: Claimed | None, asked: Asked, at: datetime) -> Claimed:
    """Whose the bed is now: the asking tablet's, unless another has it and its lease still runs. Pure."""
    is_running = held is not None and as_text(at) < held.until
    if held is not None and is_running and held.tablet != asked.tablet:
        return held
    since = held.at if held is not None and is_running else as_text(at)
    return Claimed(visit=asked.visit, tablet=asked.tablet, by=asked.by, at=since, until=as_text(at + LEASE))


def claim(asked: Asked, at: datetime) -> Claimed:
    """Ask for a bed; gives whose it is. Call inside `writing()`, so that of two who ask at once one is first.

    Raises BedUnknown.
    """
    if not known_visits({asked.visit}):
        raise BedUnknown(asked.visit)
    held = claims.claims_of([asked.visit]).get(asked.visit)
    now = after_asking(held, asked, at)
    if now != held:
        claims.keep(now)
    return now


def heard_from(at_beds: Mapping[str, Asked], at: datetime) -> None:
    """Events came from these beds, by visit: their tablets are there. Call inside `writing()`."""
    held = claims.claims_of(at_beds)
    for visit, asked in at_beds.items():
        now = after_asking(held.get(visit), asked, at)
        if now != held.get(visit):
            claims.keep(now)
