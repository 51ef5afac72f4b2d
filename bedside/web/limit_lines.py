"""A limit of the rulebook in words."""

from __future__ import annotations

from dataclasses import dataclass

from bedside.clinical.limits import Bounds, Limit

UNIT_ENDINGS = frozenset({"s", "min", "h", "ml", "kg", "percent", "days", "months", "years"})


BOUNDS = {"min": "at least", "max": "at most", "best": "at best"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One limit as it rules. `bounds` says how far a site may move it and which way is stricter."""

    key: str
    name: str
    value: str
    unit: str
    source: str
    since: str
    bounds: str


def limit_line(name: str, limit: Limit) -> LimitLine:
    return LimitLine(
        key=name,
        name=limit_words(name, limit.unit),
        value=f"{limit.value:g}",
        unit=limit.unit,
        source=limit.source,
        since=limit.since.isoformat(),
        bounds=bounds_words(limit.changeable),
    )


def bounds_words(bounds: Bounds | None) -> str:
    """`30 to 60, lower is stricter`; `fixed` for one that no site may change."""
    return f"{bounds.low:g} to {bounds.high:g}, {bounds.stricter} is stricter" if bounds else "fixed"


def limit_words(name: str, unit: str) -> str:
    """`Tourniquet, at most` for `tourniquet_max_s`: the unit stands in its own column."""
    words = name.split("_")
    if len(words) > 1 and words[-1] in UNIT_ENDINGS and (words[-1] != "min" or unit.startswith("min")):
        words.pop()
    bound = next((BOUNDS[word] for word in words if word in BOUNDS), "")
    said = " ".join(word for word in words if word not in BOUNDS).capitalize()
    return f"{said}, {bound}" if bound else said
