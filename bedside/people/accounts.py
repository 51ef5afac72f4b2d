"""Accounts: who may sign in. Nobody is deleted; somebody who left is disabled, and their sessions end."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from bedside.people import sessions, throttle
from bedside.people.passwords import Passwords, password_fault
from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.database import writing
from bedside.records.identifiers import new_id
from bedside.records.moments import as_text
from bedside.records.tables import Person


class AccountRefused(ValueError):
    """The account cannot be made or changed as asked; the sentence says why."""


class SignInRefused(Exception):
    """Name and password do not go together, or the account is closed. Which of these is not told."""


class TooManyTries(Exception):
    """Somebody is guessing; `wait_s` is how many seconds the next try has to wait."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"Too many failed sign-ins. Wait {wait_s} seconds, then try again.")
        self.wait_s = wait_s


def add_person(
    *,
    sign_in: str,
    name: str,
    role: str,
    password: str,
    passwords: Passwords,
    at: datetime,
    by: str = "house",
    site: str = "",
    ward: str | None = None,
) -> Person:
    """Make an account.

    Raises AccountRefused for an unknown role, a name that is taken or empty, a password that will not do.
    """
    fault = _account_fault(sign_in, name, role) or password_fault(password, names=(sign_in, name, site))
    if fault:
        raise AccountRefused(fault)
    kept = passwords.keep(password)
    with writing():
        if find(sign_in):
            raise AccountRefused(f"Somebody already signs in as {sign_in!r}. Choose another name.")
        person = Person.create(
            id=new_id("p"),
            sign_in=sign_in.strip().casefold(),
            name=name.strip(),
            role=role,
            ward=ward,
            password_hash=kept,
            made_at=as_text(at),
        )
        audit.write(who=by, action="person added", object=person.id, result=role, at=at)
    return person


def set_password(person: Person, password: str, passwords: Passwords, at: datetime, by: str) -> None:
    """Change a password and end every session of this person.

    Raises AccountRefused for a password that will not do.
    """
    fault = password_fault(password, names=(person.sign_in, person.name))
    if fault:
        raise AccountRefused(fault)
    kept = passwords.keep(password)
    with writing():
        Person.update(password_hash=kept).where(Person.id == person.id).execute()
        sessions.end_all(person.id, "password changed", at)
        audit.write(who=by, action="password changed", object=person.id, at=at)


def disable(person_id: str, at: datetime, by: str = "house") -> None:
    """Close an account at once: no sign-in, and every session ends.

    Raises AccountRefused when nobody has this id.
    """
    with writing():
        closed = Person.update(disabled_at=as_text(at)).where(Person.id == person_id).execute()
        if not closed:
            raise AccountRefused(f"Nobody has the id {person_id!r}. See: bedside people list")
        sessions.end_all(person_id, "account disabled", at)
        audit.write(who=by, action="person disabled", object=person_id, at=at)


def enable(person_id: str, at: datetime, by: str = "house") -> None:
    """Open a closed account again."""
    with writing():
        Person.update(disabled_at=None).where(Person.id == person_id).execute()
        audit.write(who=by, action="person enabled", object=person_id, at=at)


def change_role(person_id: str, role: str, at: datetime, by: str = "house") -> None:
    """Give somebody another role; their sessions end, so that the new role begins with a new sign-in.

    Raises AccountRefused for an unknown role or person.
    """
    if role not in set(Role):
        raise AccountRefused(f"{role!r} is no role here. Roles are: {', '.join(Role)}.")
    with writing():
        if not Person.update(role=role).where(Person.id == person_id).execute():
            raise AccountRefused(f"Nobody has the id {person_id!r}. See: bedside people list")
        sessions.end_all(person_id, "role changed", at)
        audit.write(who=by, action="role changed", object=person_id, result=role, at=at)


def find(sign_in: str) -> Person | None:
    """The person who signs in by this name, without regard to case."""
    return Person.get_or_none(Person.sign_in == sign_in.strip().casefold())


def everybody() -> Iterable[Person]:
    """Every account, by name."""
    return Person.select().order_by(Person.name, Person.id)


def sign_in(
    *,
    name: str,
    password: str,
    address: str,
    passwords: Passwords,
    at: datetime,
    old_token: str | None = None,
) -> str:
    """Check name and password and open a session; gives its token. A session held before ends.

    Raises TooManyTries before looking at the password, SignInRefused when they do not go together.
    """
    asked = find(name)
    is_known = asked is not None and sessions.belongs_to(old_token, asked.id)
    counts = throttle.counts_for_sign_in(name, address, at, is_known=is_known)
    wait_s = throttle.seconds_to_wait(counts, at)
    if wait_s:
        raise TooManyTries(wait_s)
    person = asked
    is_right = passwords.verify(person.password_hash if person else passwords.nobody, password)
    if person is None or not is_right or person.disabled_at:
        with writing():
            throttle.note_failure(counts, at)
            audit.write(who="nobody", action="sign-in", object=person.id if person else "-", result="refused", at=at)
        raise SignInRefused
    kept = passwords.keep(password) if passwords.is_outdated(person.password_hash) else person.password_hash
    with writing():
        Person.update(password_hash=kept).where(Person.id == person.id).execute()
        throttle.forgive(counts)
        sessions.end(old_token, "signed in again", at)
        audit.write(who=person.id, action="sign-in", object=person.id, at=at)
        return sessions.begin(person, at)


def _account_fault(sign_in: str, name: str, role: str) -> str | None:
    if not sign_in.strip() or not name.strip():
        return "An account needs a name to sign in with and the person's own name; one of them is empty."
    if role not in set(Role):
        return f"{role!r} is no role here. Roles are: {', '.join(Role)}."
    return None
