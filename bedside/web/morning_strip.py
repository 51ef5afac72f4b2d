"""The morning as one picture: a time axis with a mark for every visit. Geometry only; the page draws it.

A mark stands where the visit happened, or else where it is due. So what is left of the line "now" and still
open is late, and the picture says so without being read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

COLUMN_PERCENT = 2.0  # a mark is about 14 px wide; the narrowest desk page is about 740 px
PILE_HEIGHT = 6
MARK_PITCH_PX = 18
AXIS_PX = 30
SIDE_PERCENT = 2.0
SHORTEST = timedelta(hours=2)
HOUR_STEPS = (1, 2, 3, 6, 12, 24)
MOST_TICKS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One visit on the axis: when, its state (a word of `standing`), what its mark says when pointed at."""

    at: datetime
    state: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A placed mark: x in percent of the width, y in px from the top."""

    x: float
    y: int
    state: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    x: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """What the page needs to draw: everything placed, heights in px, x in percent."""

    height: int
    axis_y: int
    now_x: float
    now_says: str
    now_anchor: str
    now_dx: int
    ticks: tuple[Tick, ...]
    marks: tuple[Mark, ...]


def draw(moments: Sequence[Moment], now: datetime) -> Strip | None:
    """Place every mark; None when there is nothing to place. Times are shown in the zone they carry."""
    if not moments:
        return None
    start, end = _span([moment.at for moment in moments] + [now])
    scale = _Scale(start, end)
    placed = _pile(moments, now, scale)
    rows = max(row for _, _, row in placed) + 1
    axis_y = 24 + max(rows, 3) * MARK_PITCH_PX
    marks = tuple(
        Mark(x=x, y=axis_y - 12 - row * MARK_PITCH_PX, state=moment.state, says=moment.says)
        for moment, x, row in placed
    )
    now_x = scale.percent(now)
    return Strip(
        height=axis_y + AXIS_PX,
        axis_y=axis_y,
        now_x=now_x,
        now_says=f"now {now:%H:%M}",
        now_anchor="end" if now_x > 85 else "start",
        now_dx=-8 if now_x > 85 else 8,
        ticks=tuple(Tick(x=scale.percent(hour), says=f"{hour:%H:%M}") for hour in _hours(start, end)),
        marks=marks,
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    start: datetime
    end: datetime

    def percent(self, at: datetime) -> float:
        share = (at - self.start) / (self.end - self.start)
        return round(SIDE_PERCENT + share * (100 - 2 * SIDE_PERCENT), 2)


def _span(times: Iterable[datetime]) -> tuple[datetime, datetime]:
    """From the full hour before the first to the full hour after the last, at least two hours."""
    known = sorted(times)
    start = known[0].replace(minute=0, second=0, microsecond=0)
    end = max(known[-1], start + SHORTEST)
    whole = end.replace(minute=0, second=0, microsecond=0)
    return start, whole if whole == end else whole + timedelta(hours=1)


def _hours(start: datetime, end: datetime) -> list[datetime]:
    hours = round((end - start) / timedelta(hours=1))
    step = next((step for step in HOUR_STEPS if hours / step <= MOST_TICKS), max(1, hours // MOST_TICKS))
    return [start + timedelta(hours=hour) for hour in range(0, hours + 1, step)]


def _pile(moments: Sequence[Moment], now: datetime, scale: _Scale) -> list[tuple[Moment, float, int]]:
    """Give each mark a column and a row. A full column leans to the left, towards what has to be done before,
    and never across the line "now": being on the wrong side of it would say something untrue."""
    now_x = scale.percent(now)
    heights: dict[int, int] = {}
    placed = []
    for moment in sorted(moments, key=lambda moment: moment.at):
        wanted = int((scale.percent(moment.at) - now_x) // COLUMN_PERCENT)
        column = _column(wanted, heights, now_x)
        row = heights.get(column, 0)
        heights[column] = row + 1
        placed.append((moment, round(now_x + (column + 0.5) * COLUMN_PERCENT, 2), row))
    return placed


def _column(wanted: int, heights: dict[int, int], now_x: float) -> int:
    """The wanted column, or the nearest to its left with room on the same side of now, or the wanted one."""
    last = 0 if wanted >= 0 else -int((now_x - 1) // COLUMN_PERCENT)
    for column in range(wanted, last - 1, -1):
        if heights.get(column, 0) < PILE_HEIGHT:
            return column
    return wanted
