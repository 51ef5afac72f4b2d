"""A control chart as lines and dots: geometry in a box of fixed units; the page draws it as inline SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH = 960
HEIGHT = 260
LEFT = 64
RIGHT = 150
TOP = 20
BOTTOM = 40
MOST_NAMES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    x: float
    y: float
    says: str
    is_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisName:
    x: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Lines are SVG point lists; limits are stepped, because they widen and narrow with each point's size."""

    width: int
    height: int
    left: int
    right_x: int
    axis_y: int
    line: str
    upper: str
    lower: str
    centre_y: float
    centre_says: str
    upper_y: float
    upper_says: str
    lower_y: float
    lower_says: str
    top_says: str
    points: tuple[Point, ...]
    names: tuple[AxisName, ...]


def draw(
    *,
    values: Sequence[float],
    names: Sequence[str],
    centre: float,
    lower: Sequence[float],
    upper: Sequence[float],
    out: Sequence[int],
    show: str = "{:.1f}",
) -> Chart:
    """Place values, centre and limits. `show` formats a value for people, e.g. "{:.1f} per 1,000"."""
    top = max([*values, *upper, centre]) * 1.08 or 1.0
    frame = _Frame(len(values), top)
    spots = [(frame.x(index), frame.y(value)) for index, value in enumerate(values)]
    every = max(1, -(-len(values) // MOST_NAMES))
    return Chart(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right_x=WIDTH - RIGHT,
        axis_y=HEIGHT - BOTTOM,
        line=_points(spots),
        upper=_points(frame.steps(upper)),
        lower=_points(frame.steps(lower)),
        centre_y=frame.y(centre),
        centre_says=f"mean {show.format(centre)}",
        upper_y=frame.y(upper[-1]),
        upper_says=f"upper limit {show.format(upper[-1])}",
        lower_y=frame.y(lower[-1]),
        lower_says=f"lower limit {show.format(lower[-1])}",
        top_says=show.format(top),
        points=tuple(
            Point(x=x, y=y, says=f"{names[index]}: {show.format(values[index])}", is_out=index in set(out))
            for index, (x, y) in enumerate(spots)
        ),
        names=tuple(AxisName(x=frame.x(index), says=name) for index, name in enumerate(names) if index % every == 0),
    )


@dataclass(frozen=True, slots=True)
class _Frame:
    count: int
    top: float

    @property
    def pitch(self) -> float:
        return (WIDTH - LEFT - RIGHT) / max(1, self.count)

    def x(self, index: int) -> float:
        return round(LEFT + (index + 0.5) * self.pitch, 1)

    def y(self, value: float) -> float:
        return round(HEIGHT - BOTTOM - value / self.top * (HEIGHT - TOP - BOTTOM), 1)

    def steps(self, values: Sequence[float]) -> list[tuple[float, float]]:
        half = self.pitch / 2
        return [
            corner
            for index, value in enumerate(values)
            for corner in ((self.x(index) - half, self.y(value)), (self.x(index) + half, self.y(value)))
        ]


def _points(spots: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in spots)
