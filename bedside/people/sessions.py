"""Sessions: rows that can be ended. The browser holds a random token, the house only its SHA-256."""

from __future__ import annotations

import hashlib
import secrets
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records.database import DatabaseTrouble, writing
from bedside.records.moments import as_text, read_moment
from bedside.records.tables import Person, Session

IDLE = timedelta(minutes=30)
ABSOLUTE = timedelta(hours=12)
"""OWASP ASVS 5.0, V7.3.1 and V7.3.2 ask for both limits; the lengths are the house's choice."""

FRESH = timedelta(minutes=5)
"""OWASP ASVS 5.0, V7.5.1: so long after typing the password somebody may change what else lets them in."""

NOTED_EVERY = timedelta(minutes=1)
"""How often being there is written down: each note is a write to the disk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedIn:
    """Who is at the other end of a request."""

    session: int
    person: str
    name: str
    role: str
    ward: str | None


def begin(person: Person, at: datetime) -> str:
    """Open a session; gives the token for the cookie, which is kept nowhere else. Call inside `writing()`."""
    token = secrets.token_urlsafe(32)
    Session.insert(
        token_hash=_hash(token),
        person=person,
        made_at=as_text(at),
        seen_at=as_text(at),
        ends_at=as_text(at + ABSOLUTE),
    ).execute()
    return token


def who(token: str | None, at: datetime, *, is_there: bool = True) -> SignedIn | None:
    """Who holds this token now; None when it is unknown, ended, idle too long, too old, or the account is
    closed.

    is_there: whether a person asked. A page that looks again by itself keeps nobody signed in.
    """
    if not token:
        return None
    row = Session.select(Session, Person).join(Person).where(Session.token_hash == _hash(token)).first()
    if row is None or not _is_alive(row, at) or row.person.disabled_at:
        return None
    if is_there and at - read_moment(row.seen_at) >= NOTED_EVERY:
        _note_seen(row, at)
    person = row.person
    return SignedIn(session=row.id, person=person.id, name=person.name, role=person.role, ward=person.ward_id)


def is_fresh(signed_in: SignedIn, at: datetime) -> bool:
    """Report whether this person has typed their password just now."""
    row = Session.get_or_none(Session.id == signed_in.session)
    return row is not None and at - read_moment(row.made_at) < FRESH


def belongs_to(token: str | None, person: str) -> bool:
    """Report whether this token is of a session of this person that nobody ended; it may have run out."""
    if not token:
        return False
    is_theirs = (Session.token_hash == _hash(token)) & (Session.person == person) & Session.ended_at.is_null()
    return bool(Session.select().where(is_theirs).exists())


def end(token: str | None, why: str, at: datetime) -> None:
    """End the session of this token, if there is one. Call inside `writing()`."""
    if token:
        alive = Session.ended_at.is_null()
        _end((Session.token_hash == _hash(token)) & alive, why, at)


def end_all(person: str, why: str, at: datetime) -> None:
    """End every session of a person. Call inside `writing()`."""
    _end((Session.person == person) & Session.ended_at.is_null(), why, at)


def _end(which: object, why: str, at: datetime) -> None:
    Session.update(ended_at=as_text(at), ended_why=why).where(which).execute()


def _is_alive(row: Session, at: datetime) -> bool:
    if row.ended_at or at >= read_moment(row.ends_at):
        return False
    return at - read_moment(row.seen_at) < IDLE


def _note_seen(row: Session, at: datetime) -> None:
    """Note that somebody was there. On a disk that takes nothing they may still read; the session
    just ends sooner.
    """
    with suppress(DatabaseTrouble), writing():
        Session.update(seen_at=as_text(at)).where(Session.id == row.id).execute()


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
