"""Moments as the house writes them: UTC, ISO 8601, milliseconds, `Z`. The server's only clock is `now()`
here.
"""

from __future__ import annotations

from datetime import UTC, datetime


def now() -> datetime:
    """The server's clock. Called at the edge (routes, commands) and passed inwards."""
    return datetime.now(UTC)


def as_text(moment: datetime) -> str:
    """`2026-11-25T05:12:40.120Z`: texts of this shape sort as they read.

    Raises ValueError for a moment without a time zone: it could mean any of 38 instants.
    """
    if moment.tzinfo is None:
        raise ValueError(f"The time {moment} names no time zone. Give it one, UTC if in doubt.")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def read_moment(text: str) -> datetime:
    """Read an ISO 8601 time with `Z` or an offset.

    Raises ValueError for anything else, also for a time without an offset.
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"The time {text!r} names no offset from UTC. Write it with Z or +hh:mm.")
    return moment.astimezone(UTC)
