"""The shapes a value can have in a file: text, numbers, words of a list, dates, times, lists and records of these.

A shape takes a field's name and its raw value and gives the value to use, or raises `BadInput` when it does not fit.
`None` means the same as missing and is never handed to a shape.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from bedside.clinical.bad_input import BadInput

Shape = Callable[[str, object], Any]

# Milliseconds since 1970 stay far below it, and every whole number up to it is exact in every judge.
LARGEST = 10**15

_TIME = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d([.,]\d+)?)?([Zz]|[+-]\d\d:?\d\d)")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def text(field: str, value: object) -> str:
    """Any text."""
    if not isinstance(value, str):
        raise BadInput(field, value, "is not text")
    return value


def flag(field: str, value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise BadInput(field, value, "is neither true nor false")
    return value


def number(field: str, value: object) -> float:
    """A number that something at a bedside can have."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
        raise BadInput(field, value, "is not a number")
    if abs(value) > LARGEST:
        raise BadInput(field, value, "is larger than anything at a bedside")
    return value


def amount(field: str, value: object) -> float:
    """A number that is not negative: mL, s, kg."""
    found = number(field, value)
    if found < 0:
        raise BadInput(field, value, "is negative")
    return found


def count(field: str, value: object) -> int:
    """A whole number that is not negative."""
    found = amount(field, value)
    if found != int(found):
        raise BadInput(field, value, "is not a whole number")
    return int(found)


def whole(field: str, value: object) -> int:
    """A whole number."""
    found = number(field, value)
    if found != int(found):
        raise BadInput(field, value, "is not a whole number")
    return int(found)


def day(field: str, value: object) -> str:
    """A date that exists, as YYYY-MM-DD."""
    found = text(field, value)
    try:
        if not _DATE.fullmatch(found):
            raise ValueError
        date.fromisoformat(found)
    except ValueError:
        raise BadInput(field, value, "is not a date (YYYY-MM-DD)") from None
    return found


def instant(field: str, value: object) -> int:
    """A time with its offset, as milliseconds since 1970-01-01T00:00:00Z."""
    found = text(field, value)
    try:
        if not _TIME.fullmatch(found):
            raise ValueError
        moment = datetime.fromisoformat(found.upper().replace(",", "."))
    except ValueError:
        raise BadInput(field, value, "is not a time with Z or an offset (2026-11-25T05:12:40.120Z)") from None
    found_ms = milliseconds(moment)
    if not EARLIEST_MS <= found_ms < LATEST_MS:
        raise BadInput(field, value, "lies outside the years a clock at a bedside can show (1900 to 2999)")
    return found_ms


def milliseconds(moment: datetime) -> int:
    """Milliseconds since 1970 of a moment that carries its offset; what is finer is cut off."""
    since = moment - _EPOCH
    return (since.days * 86400 + since.seconds) * 1000 + since.microseconds // 1000


_EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")

# A tablet whose clock was lost shows 1970 and counts; the very edges of the calendar no page could show.
EARLIEST_MS = milliseconds(datetime.fromisoformat("1900-01-01T00:00:00+00:00"))
LATEST_MS = milliseconds(datetime.fromisoformat("3000-01-01T00:00:00+00:00"))


def word(*allowed: str) -> Shape:
    """One of these words."""

    def one_of(field: str, value: object) -> str:
        if not isinstance(value, str) or value not in allowed:
            raise BadInput(field, value, f"is not one of {', '.join(allowed)}")
        return value

    return one_of


def record(field: str, value: object) -> Mapping[str, Any]:
    """Named values of any shape."""
    if not isinstance(value, Mapping):
        raise BadInput(field, value, "is not a record of named values")
    return value


def listed(shape: Shape) -> Shape:
    """A list of values of one shape."""

    def every(field: str, value: object) -> tuple[Any, ...]:
        if not isinstance(value, (list, tuple)):
            raise BadInput(field, value, "is not a list")
        return tuple(shape(f"{field}[{place}]", item) for place, item in enumerate(value))

    return every


def fields(*, required: tuple[str, ...] = (), **shapes: Shape) -> Shape:
    """A record whose known fields have these shapes; fields it does not know are kept as they are."""

    def whole_record(field: str, value: object) -> dict[str, Any]:
        raw = record(field, value)
        for name in required:
            if raw.get(name) is None:
                raise BadInput(f"{field}.{name}", None, "is missing")
        return {
            name: shapes[name](f"{field}.{name}", given) if name in shapes else given
            for name, given in raw.items()
            if given is not None
        }

    return whole_record
