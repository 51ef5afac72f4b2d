"""Control charts: where a month stands against its own history, three standard deviations either way.

- `p`: a share, for example mislabelled tubes of all tubes (QI-20: NIST e-Handbook 6.3.3.2, secondary source);
- `u`: events for each unit of work, for example incidents for each hundred draws (QI-23: NIST 6.3.3.1);
- `c`: events in equal periods (QI-22: NIST 6.3.3.1);
- `g`: how much work lay between two rare events (QI-30: from memory; the geometric deviation).

Which points lie outside is decided in whole fractions, so a point exactly on a limit is never outside by a
rounding error (QI-22: wafer 3 is on the limit and not out).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

SIGMAS = 3


class NotAChart(ValueError):
    """Numbers that no chart of this kind can show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A chart's lines. `points` are what is plotted; `out` are the places, from 0, strictly outside."""

    centre: float
    points: list[float]
    lower: list[float]
    upper: list[float]
    out: list[int]


def limits(kind: str, counts: Sequence[int], sizes: Sequence[float] | None = None) -> Limits:
    """Work out a chart's lines.

    counts: events in each period; for `g`, the number of draws between one event and the next.
    sizes: chances in each period, for `p` and `u` only.
    NotAChart: an unknown kind, no points, negative counts, sizes missing, not above 0 or too many, or (`p`) a
    count above its size.
    """
    _check(kind, counts, sizes)
    exact = [Fraction(count) for count in counts]
    chances = [Fraction(size) for size in sizes] if sizes is not None else [Fraction(1)] * len(exact)
    values = [count / chance for count, chance in zip(exact, chances, strict=True)]
    centre = sum(exact) / sum(chances)
    variances = [_variance(kind, centre, chance) for chance in chances]
    reaches = [SIGMAS * sqrt(variance) for variance in variances]
    return Limits(
        centre=float(centre),
        points=[float(value) for value in values],
        lower=[max(0.0, float(centre) - reach) for reach in reaches],
        upper=[float(centre) + reach for reach in reaches],
        out=[
            place
            for place, (value, variance) in enumerate(zip(values, variances, strict=True))
            if (value - centre) ** 2 > SIGMAS**2 * variance
        ],
    )


def _variance(kind: str, centre: Fraction, chance: Fraction) -> Fraction:
    """Give the variance of one point around the centre."""
    if kind == "p":
        return centre * (1 - centre) / chance
    return centre * (centre + 1) if kind == "g" else centre / chance


def _check(kind: str, counts: Sequence[int], sizes: Sequence[float] | None) -> None:
    if kind not in ("p", "u", "c", "g"):
        raise NotAChart(f"There is no chart of kind {kind!r}. Use p, u, c or g.")
    if not counts:
        raise NotAChart("A chart needs at least one point. Show nothing until there is one.")
    if any(count < 0 for count in counts):
        raise NotAChart(f"A chart counts events, and one count here is {min(counts)}. Counts start at 0.")
    if (sizes is not None) != (kind in ("p", "u")):
        raise NotAChart(f"A {kind} chart {'needs' if sizes is None else 'takes no'} sizes. Give them for p and u only.")
    if sizes is not None:
        _check_sizes(kind, counts, sizes)


def _check_sizes(kind: str, counts: Sequence[int], sizes: Sequence[float]) -> None:
    if len(sizes) != len(counts):
        raise NotAChart(f"There are {len(counts)} counts and {len(sizes)} sizes. Give one size for each count.")
    if min(sizes) <= 0:
        raise NotAChart("A period without any chance of an event has no rate. Leave such periods out.")
    if kind == "p" and any(count > size for count, size in zip(counts, sizes, strict=True)):
        raise NotAChart("A share cannot be above one: a count here is larger than its size. Use u for such events.")
