"""Times as the ward reads them: in the ward's zone, the day only when it is not today."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bedside.records.moments import read_moment


def zone_of(now: datetime) -> ZoneInfo:
    """The zone a page's time carries: pages are built from a moment in the ward's own zone."""
    assert isinstance(now.tzinfo, ZoneInfo)
    return now.tzinfo


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


def spell(length: timedelta) -> str:
    """A length of time as one would say it: `8 min`, `1 h 05 min`, `14 h`, `3 days`."""
    minutes = int(length / timedelta(minutes=1))
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 600:
        return f"{minutes // 60} h {minutes % 60:02} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // (24 * 60)} days"


def ago(at: datetime, now: datetime) -> str:
    """How long ago; under a minute, and a future time (clocks apart), is just now."""
    return f"{spell(now - at)} ago" if now - at >= timedelta(minutes=1) else "just now"
