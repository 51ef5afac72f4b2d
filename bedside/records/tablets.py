"""Tablets: each local store by the name it gave itself, how far it has got, and whether it is still
in use.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.moments import as_text
from bedside.records.tables import Audit, Enrolment, Person, Tablet, TabletUse


class TabletUnknown(ValueError):
    """No tablet of this name has ever sent anything."""


class TabletUseRefused(ValueError):
    """The tablet cannot be taken out of use, or put back, as asked; the sentence says why."""


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
        person=person or row.person_id,
        top_seq=max(row.top_seq, seen.top_seq),
        skew_ms=row.skew_ms if seen.skew_ms is None else seen.skew_ms,
    ).where(Tablet.id == seen.tablet).execute()


def revoked(tablets: set[str]) -> frozenset[str]:
    """Those of these tablets that were taken out of use."""
    rows = Tablet.select(Tablet.id).where((Tablet.id << list(tablets)) & Tablet.revoked_at.is_null(False))
    return frozenset(row.id for row in rows)


def enrolled(tablets: set[str]) -> frozenset[str]:
    """Those of these tablets that sign what they send."""
    return frozenset(row.tablet_id for row in Enrolment.select().where(Enrolment.tablet << list(tablets)))


def revoke(tablet: str, at: datetime, by: str | None = None, reason: str = "taken out at the command line") -> None:
    """Take a tablet out of use: what it still sends is kept, and set aside for a person.

    by: the person who said so, None at the command line.

    Raises TabletUnknown when no tablet has this name, TabletUseRefused without a reason and for one that is out of
    use already.
    """
    with writing():
        row = _known(tablet, reason)
        if row.revoked_at is not None:
            raise TabletUseRefused("This tablet is out of use already. Load the page again.")
        _note_use(tablet, "revoked", as_text(at), reason, by, at)


def restore(tablet: str, at: datetime, by: str | None = None, reason: str = "put back at the command line") -> None:
    """Put a tablet back in use. What was set aside meanwhile stays there for a person.

    Raises TabletUnknown when no tablet has this name, TabletUseRefused without a reason and for one that is in use.
    """
    with writing():
        row = _known(tablet, reason)
        if row.revoked_at is None:
            raise TabletUseRefused("This tablet is in use. Load the page again.")
        _note_use(tablet, "restored", None, reason, by, at)


def _known(tablet: str, reason: str) -> Tablet:
    row = Tablet.get_or_none(Tablet.id == tablet)
    if row is None:
        raise TabletUnknown(f"No tablet is called {tablet!r}. See: bedside tablets list")
    if not reason.strip():
        raise TabletUseRefused("Say why: whoever finds the tablet next must understand it. Nothing was changed.")
    return row


def _note_use(tablet: str, act: str, revoked_at: str | None, reason: str, by: str | None, at: datetime) -> None:
    Tablet.update(revoked_at=revoked_at).where(Tablet.id == tablet).execute()
    TabletUse.create(tablet=tablet, act=act, reason=reason.strip(), by=by, at=as_text(at))
    audit.write(who=by or "house", action=f"tablet {act}", object=tablet, at=at)


def note_carrying(tablet: str, until: str) -> None:
    """Note that an enrolled tablet carries a round now. Call inside `writing()`."""
    Enrolment.update(carries_until=until).where(Enrolment.tablet == tablet).execute()


def note_handed_back(tablet: str, unsent: int, at: datetime) -> None:
    """Note that an enrolled tablet carries no patients now, and so many unsent events. Call inside `writing()`."""
    Enrolment.update(carries_until=None, handed_back_at=as_text(at), unsent_then=unsent).where(
        Enrolment.tablet == tablet
    ).execute()
    audit.write(who="tablet", action="tablet handed back", object=tablet, result=f"{unsent} unsent", at=at)


PINS_USED_UP = "ten wrong PINs"
"""The audit entry about a person's round that was wiped from a tablet; its result is the person and the time."""


def note_pins_used_up(tablet: str, person: str, happened_at: datetime, at: datetime) -> None:
    """Note that the tenth wrong PIN wiped a person's round from this tablet; told twice it is noted once.

    happened_at: by the tablet's clock. A person this house does not know is written down as somebody unknown: no free
    text of a tablet goes into the record.
    """
    with writing():
        known = Person.get_or_none(Person.id == person) is not None
        result = f"{as_text(happened_at)} {person if known else 'somebody unknown'}"
        told = (Audit.action == PINS_USED_UP) & (Audit.object == tablet) & (Audit.result == result)
        if not Audit.select().where(told).exists():
            audit.write(who="tablet", action=PINS_USED_UP, object=tablet, result=result, at=at)


def is_out_of_use(tablet: str) -> bool:
    """Report whether this tablet was taken out of use."""
    return bool(revoked({tablet}))
