"""How a filled container is kept on its way, and until when it is good: minutes from the draw, the clock elsewhere."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from bedside.clinical.containers import CULTURES
from bedside.clinical.directory import Test
from bedside.clinical.limits import Limit
from bedside.clinical.rulebook_volumes import VOLUME_LIMITS

CLOTS = ("serum", "serum-clot", "serum-gel", "trace-serum")
"""Kinds whose blood must clot before it is spun; plain serum clots, too, only more slowly."""

SPUN = (*CLOTS, "heparin", "heparin-gel")
"""Kinds whose serum or plasma is parted from the cells."""

KEEP_SAYS: Mapping[str, str] = {
    "ice": "In ice slurry from the draw on; the tube stands in water and ice, never on bare ice.",
    "37C": "At 37 °C from the draw on; never on ice.",
    "dark": "In the dark: wrap it in foil.",
    "room": "At room temperature.",
}
"""Practice TD-14 to TD-16 (Nikolac 2013, Biochem Med 23:242-54, Table 4)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """One thing to be done with a container. from_min: not before; within_min: not after; None: no such end.

    what: `in-lab`, `clot` (standing upright, before it is spun) or `spin`.
    """

    what: str
    from_min: float | None = None
    within_min: float | None = None
    source: str

    @property
    def says(self) -> str:
        if self.what == "clot":
            return f"Stands upright for {self.from_min:g} to {self.within_min:g} min to clot before it is spun."
        if self.what == "spin":
            return f"Spun and parted from the cells within {self.within_min:g} min."
        return f"In the laboratory within {self.within_min:g} min."

    def by(self, drawn_at: datetime) -> datetime | None:
        """The last moment, for a container filled then."""
        return None if self.within_min is None else drawn_at + timedelta(minutes=self.within_min)

    def as_json(self) -> dict[str, Any]:
        return {
            "what": self.what,
            "from_min": self.from_min,
            "within_min": self.within_min,
            "says": self.says,
            "source": self.source,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodUntil:
    """How a container is kept (words of `KEEP_SAYS`) and its clocks, the shortest first."""

    keep: tuple[str, ...]
    clocks: tuple[Clock, ...]

    def as_json(self) -> dict[str, Any]:
        return {
            "keep": list(self.keep),
            "keep_says": [KEEP_SAYS[word] for word in self.keep],
            "clocks": [clock.as_json() for clock in self.clocks],
        }

    def in_lab_within_min(self) -> float | None:
        """Minutes from the draw within which the laboratory must have it, or None."""
        return next((clock.within_min for clock in self.clocks if clock.what == "in-lab"), None)

    def not_kept(self, kept: Collection[str]) -> tuple[str, ...]:
        """What it needed on its way and did not get."""
        return tuple(word for word in self.keep if word != "room" and word not in kept)


def good_until(
    kind: str,
    tests: Iterable[Test],
    handling: Collection[str],
    limits: Mapping[str, Limit] = VOLUME_LIMITS,
) -> GoodUntil:
    """What a container of this kind with these tests and handling words needs after the draw."""
    inside = list(tests)
    clocks = sorted(_clocks(kind, inside, handling, limits), key=lambda clock: clock.within_min or 0)
    return GoodUntil(keep=_keep(handling), clocks=tuple(clocks))


def _keep(handling: Collection[str]) -> tuple[str, ...]:
    warmth = next((word for word in ("ice", "37C") if word in handling), "room")
    return (warmth, "dark") if "protect-from-light" in handling else (warmth,)


def _clocks(kind: str, tests: list[Test], handling: Collection[str], limits: Mapping[str, Limit]) -> Iterator[Clock]:
    minutes = min((test.in_lab_min for test in tests if test.in_lab_min is not None), default=None)
    if kind in CULTURES:
        yield _within("in-lab", limits["culture_in_lab_min"])
    elif minutes is not None:
        yield Clock(what="in-lab", within_min=minutes, source="the laboratory's directory")
    if kind in CLOTS and "37C" not in handling:
        first, last = limits["clot_at_least_min"], limits["clot_at_most_min"]
        yield Clock(what="clot", from_min=first.value, within_min=last.value, source=first.source)
    if kind in SPUN:
        yield _within("spin", limits["warm_spin_within_min" if "37C" in handling else "spin_within_min"])


def _within(what: str, limit: Limit) -> Clock:
    return Clock(what=what, within_min=limit.value, source=limit.source)
