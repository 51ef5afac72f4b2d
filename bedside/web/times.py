"""Times as the ward reads them: in the ward's zone, the day only when it is not today."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bedside.records.moments import read_moment


def local(text: str, zone: ZoneInfo) -> datetime:
    """A stored time in the ward's zone."""
    return read_moment(text).astimezone(zone)


def shown(at: datetime, now: datetime) -> str:
    """`05:12` today, `24 Nov 05:12` on any other day, with the year once it is another one."""
    if at.date() == now.date():
        return f"{at:%H:%M}"
    if at.year == now.year:
        return f"{at.day} {at:%b %H:%M}"
    return f"{at.day} {at:%b %Y %H:%M}"


def window(start: datetime, end: datetime, now: datetime) -> str:
    """`04:30 to 06:00`: when a draw is due."""
    if start.date() == end.date():
        return f"{shown(start, now)} to {end:%H:%M}"
    return f"{shown(start, now)} to {shown(end, now)}"


def ago(at: datetime, now: datetime) -> str:
    """How long ago, as one would say it; a future time (clocks apart) counts as just now."""
    minutes = int((now - at) / timedelta(minutes=1))
    if minutes < 1:
        return "just now"
    if minutes < 60:
        return f"{minutes} min ago"
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60:02} min ago" if minutes < 600 else f"{minutes // 60} h ago"
    return f"{minutes // (24 * 60)} days ago"


def lateness(due_to: datetime, now: datetime) -> str:
    """`25 min late`."""
    return ago(due_to, now).replace(" ago", " late").replace("just now", "due now")
