"""Tablets: each local store by the name it gave itself, how far it has got, and whether it is still
in use.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.moments import as_text
from bedside.records.tables import Tablet


class TabletUnknown(ValueError):
    """No tablet of this name has ever sent anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one batch says about its tablet."""

    tablet: str
    top_seq: int
    skew_ms: int | None


def note_seen(seen: Seen, person: str | None, at: datetime) -> None:
    """Note that a tablet was heard from. Call inside `writing()`."""
    row = Tablet.get_or_none(Tablet.id == seen.tablet)
    now = as_text(at)
    if row is None:
        Tablet.insert(
            id=seen.tablet,
            first_seen_at=now,
            last_seen_at=now,
            person=person,
            top_seq=seen.top_seq,
            skew_ms=seen.skew_ms,
        ).execute()
        return
    Tablet.update(
        last_seen_at=now,
        person=person,
        top_seq=max(row.top_seq, seen.top_seq),
        skew_ms=row.skew_ms if seen.skew_ms is None else seen.skew_ms,
    ).where(Tablet.id == seen.tablet).execute()


def revoked(tablets: set[str]) -> frozenset[str]:
    """Those of these tablets that were taken out of use."""
    rows = Tablet.select(Tablet.id).where((Tablet.id << list(tablets)) & Tablet.revoked_at.is_null(False))
    return frozenset(row.id for row in rows)


def revoke(tablet: str, at: datetime, by: str = "house") -> None:
    """Take a tablet out of use: what it still sends is kept, and set aside for a person.

    Raises TabletUnknown when no tablet has this name.
    """
    with writing():
        if not Tablet.update(revoked_at=as_text(at)).where(Tablet.id == tablet).execute():
            raise TabletUnknown(f"No tablet is called {tablet!r}. See: bedside tablets list")
        audit.write(who=by, action="tablet revoked", object=tablet, at=at)
