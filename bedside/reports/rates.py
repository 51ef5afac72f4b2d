"""How sure a rate is: two-sided 95 % intervals for shares and for counts, standard library only."""

from __future__ import annotations

from math import exp, lgamma, log, sqrt
from statistics import NormalDist

CONFIDENCE = 0.95
TAIL = (1 - CONFIDENCE) / 2
Z = NormalDist().inv_cdf(1 - TAIL)
"""1.959964 (QI-26)."""

Interval = tuple[float, float]


class NotACount(ValueError):
    """A rate was asked for something that cannot have been counted."""


def wilson(events: int, total: int) -> Interval:
    """Give the Wilson score interval of a share (QI-26: Wilson 1927, Newcombe 1998 method 3).

    Nothing seen at all says nothing: `wilson(0, 0)` is `(0.0, 1.0)`.
    NotACount: a negative number, or more events than there were chances.
    """
    if not 0 <= events <= total:
        raise NotACount(f"{events} of {total} is not a share. Count events from 0 up to the total.")
    if total == 0:
        return (0.0, 1.0)
    share, weight = events / total, Z * Z / total
    centre = (share + weight / 2) / (1 + weight)
    half = Z * sqrt(share * (1 - share) / total + weight / (4 * total)) / (1 + weight)
    low = 0.0 if events == 0 else max(0.0, centre - half)
    high = 1.0 if events == total else min(1.0, centre + half)
    return (low, high)


def poisson_exact(events: int) -> Interval:
    """Give the exact interval of a count (QI-28: Garwood 1936, from memory, recomputed).

    The low end is the mean at which so many or more have a chance of 2.5 %, the high end the mean at which so
    many or fewer have.
    NotACount: a negative number.
    """
    if events < 0:
        raise NotACount(f"{events} is not a count. Counts start at 0.")
    low = 0.0 if events == 0 else _mean_where(events, TAIL)
    return (low, _mean_where(events + 1, 1 - TAIL))


def _mean_where(at_least: int, chance: float) -> float:
    """Find the mean of a Poisson count at which `at_least` or more happen with this chance, by halving."""
    low, high = 0.0, at_least + 10 * sqrt(at_least) + 10
    while True:
        middle = (low + high) / 2
        if middle in (low, high):
            return middle
        if chance_of_at_least(at_least, middle) < chance:
            low = middle
        else:
            high = middle


def chance_of_at_least(events: int, mean: float) -> float:
    """Give P(X >= events) for a Poisson count: the regularised lower incomplete gamma function."""
    if events <= 0:
        return 1.0
    if mean <= 0:
        return 0.0
    front = exp(events * log(mean) - mean - lgamma(events))
    return front * _series(events, mean) if mean < events + 1 else 1 - front * _fraction(events, mean)


def _series(shape: int, mean: float) -> float:
    """Sum mean^n / (shape (shape + 1) … (shape + n)); converges quickly where mean < shape + 1."""
    term = total = 1 / shape
    divisor = shape
    while term > total * 1e-17:
        divisor += 1
        term *= mean / divisor
        total += term
    return total


def _fraction(shape: int, mean: float) -> float:
    """Evaluate the upper incomplete gamma function by its continued fraction, for mean >= shape + 1."""
    tiny = 1e-300
    denominator = mean + 1 - shape
    upper, lower = 1 / tiny, 1 / denominator
    total, step, change = lower, 0, 0.0
    while abs(change - 1) > 1e-15:
        step += 1
        numerator = -step * (step - shape)
        denominator += 2
        lower = 1 / (numerator * lower + denominator or tiny)
        upper = denominator + numerator / upper or tiny
        change = upper * lower
        total *= change
    return total
