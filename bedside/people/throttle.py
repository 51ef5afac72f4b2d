"""Slows down guessing at passwords, in the database, so that a restart forgets nothing.

Three counts run: this account from this address, this address for any account, this account from any address.
The first is strict; the second is lax; the third makes nobody wait: after many failures it only takes away the free
tries of addresses, so that a stranger cannot lock somebody out elsewhere. A browser that holds a session of the same
person has a count of its own, whatever others try. Nothing locks for good.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta

from bedside.records.moments import as_text, read_moment
from bedside.records.tables import SignInFailure

LONGEST_WAIT = timedelta(seconds=60)
FORGOTTEN_AFTER = timedelta(hours=24)

AT_ONCE = "1970-01-01T00:00:00.000Z"
"""Kept as the end of a wait where there is none."""


MANY = 60
"""Failures of one account, from anywhere, after which an address has one free try instead of five."""

NOBODY_WAITS = 2**31
"""As many free failures as a count has that only counts."""


@dataclass(frozen=True, slots=True)
class Count:
    """One running count: what it is kept under, and how many failures are free."""

    key: str
    free: int


def counts_for(sign_in: str, address: str) -> tuple[Count, ...]:
    """The counts a sign-in is held against. Names are hashed: people type passwords into the wrong field."""
    return (
        Count(_hash("both", sign_in, address), free=5),
        Count(_hash("address", address), free=30),
        Count(_hash("account", sign_in), free=60),
    )


def counts_for_sign_in(sign_in: str, address: str, at: datetime, *, is_known: bool) -> tuple[Count, ...]:
    """The counts one sign-in is held against. is_known: this browser holds a session of the person it names."""
    if is_known:
        return (Count(_hash("known", sign_in, address), free=5),)
    account = Count(_hash("account", sign_in), free=NOBODY_WAITS)
    row = SignInFailure.get_or_none(SignInFailure.key == account.key)
    is_guessed_at = row is not None and row.failures >= MANY and not _is_forgotten(row, at)
    return (
        Count(_hash("both", sign_in, address), free=1 if is_guessed_at else 5),
        Count(_hash("address", address), free=30),
        account,
    )


def wait_after(failures: int, free: int) -> timedelta:
    """How long to wait after so many failures: nothing while they are free, then 1, 2, 4 … 60 s."""
    if failures < free:
        return timedelta(0)
    return min(timedelta(seconds=2 ** min(failures - free, 6)), LONGEST_WAIT)


def seconds_to_wait(counts: tuple[Count, ...], at: datetime) -> int:
    """Whole seconds until the next try is taken, 0 when it is taken now."""
    rows = SignInFailure.select().where(SignInFailure.key << [count.key for count in counts])
    waits = [(read_moment(row.wait_until) - at).total_seconds() for row in rows]
    # Never longer than the longest wait: a clock that was set back must not keep anybody out for a day.
    return min(max([0, *(int(wait) + 1 for wait in waits if wait > 0)]), int(LONGEST_WAIT.total_seconds()))


def note_failure(counts: tuple[Count, ...], at: datetime) -> None:
    """Count one more failure. Call inside `writing()`."""
    for count in counts:
        row = SignInFailure.get_or_none(SignInFailure.key == count.key)
        failures = 1 if row is None or _is_forgotten(row, at) else row.failures + 1
        wait = wait_after(failures, count.free)
        until = as_text(at + wait) if wait else AT_ONCE
        values = {"key": count.key, "failures": failures, "last_at": as_text(at), "wait_until": until}
        if row is None:
            SignInFailure.insert(values).execute()
        else:
            SignInFailure.update(values).where(SignInFailure.key == count.key).execute()


def forgive(counts: tuple[Count, ...]) -> None:
    """Forget the failures of this account from this address after a sign-in that worked. Call inside
    `writing()`.
    """
    SignInFailure.delete().where(SignInFailure.key == counts[0].key).execute()


def _is_forgotten(row: SignInFailure, at: datetime) -> bool:
    return at - read_moment(row.last_at) > FORGOTTEN_AFTER


def _hash(*parts: str) -> str:
    return hashlib.sha256("\0".join(part.casefold() for part in parts).encode()).hexdigest()
