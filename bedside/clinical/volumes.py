"""Volumes without rounding errors: sums and comparisons in whole nanolitres, so that exactly a limit is exactly it."""

from __future__ import annotations

import math

NL_PER_ML = 1_000_000


def nanolitres(ml: float) -> int:
    """A volume in mL as whole nanolitres."""
    return math.floor(ml * NL_PER_ML + 0.5)


def ml(nanolitres: int) -> float:
    """Whole nanolitres as mL."""
    return nanolitres / NL_PER_ML


def is_under_percent(part_ml: float, whole_ml: float, percent: float) -> bool:
    """Report whether a volume is less than so many percent of another; exactly that share is not less."""
    return nanolitres(part_ml) * 100 < nanolitres(whole_ml) * percent
