"""Claims as rows: which tablet is at which bed. A claim keeps nobody from recording what happened."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bedside.records.tables import Claim, Tablet


@dataclass(frozen=True, slots=True, kw_only=True)
class Claimed:
    """A tablet is at a bed, since `at`, and is believed there up to and without `until`. `by` is whom it named."""

    visit: str
    tablet: str
    by: str | None
    at: str
    until: str


def claims_of(visits: Collection[str]) -> dict[str, Claimed]:
    """The latest claim of each of these visits, also one whose lease is over."""
    rows = Claim.select().where(Claim.visit << list(visits))
    return {
        row.visit_id: Claimed(visit=row.visit_id, tablet=row.tablet, by=row.by, at=row.at, until=row.until)
        for row in rows
    }


def keep(claim: Claimed) -> None:
    """Let this claim take the place of the visit's former one. Call inside `writing()`."""
    values = {"tablet": claim.tablet, "by": claim.by, "at": claim.at, "until": claim.until}
    if not Claim.update(values).where(Claim.visit == claim.visit).execute():
        Claim.insert(visit=claim.visit, **values).execute()


def let_go(visit: str, tablet: str) -> None:
    """Take a tablet's own claim away. Call inside `writing()`."""
    Claim.delete().where((Claim.visit == visit) & (Claim.tablet == tablet)).execute()


def names_of(tablets: Collection[str]) -> dict[str, str]:
    """What the house calls these tablets, those without a name left out."""
    rows = Tablet.select(Tablet.id, Tablet.name).where((Tablet.id << list(tablets)) & (Tablet.name != ""))
    return {row.id: row.name for row in rows}
