"""How old is the patient? Dates are YYYY-MM-DD; moments are milliseconds since 1970."""

from __future__ import annotations

from datetime import UTC, datetime


def is_under_months(birth_date: str, at_ms: float, months: float) -> bool:
    """Report whether fewer than so many months have passed since birth; on the day itself they have."""
    return day_of(at_ms) < months_later(birth_date, int(months))


def months_later(date: str, months: int) -> str:
    """The same day some months later, as text that sorts; a day that month lacks sorts after its last one."""
    year, month, day = date.split("-")
    total = int(year) * 12 + int(month) - 1 + months
    return f"{total // 12:04d}-{total % 12 + 1:02d}-{day}"


def day_of(at_ms: float) -> str:
    """The UTC day of a moment."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).date().isoformat()
