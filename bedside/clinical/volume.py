"""How much blood: what a body holds, how old a child is, and how much one visit may draw."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from bedside.clinical.limits import Limit
from bedside.clinical.rulebook_volumes import VOLUME_LIMITS, VOLUME_TABLES, VolumeTables

# Nadler, Hidalgo, Bloch, Surgery 1962;51:224-32, secondary source: litres from metres and kilograms.
NADLER = {"male": (0.3669, 0.03219, 0.6041), "female": (0.3561, 0.03308, 0.1833)}


def nadler_litres(sex: str, height_m: float, weight_kg: float) -> float:
    """Total blood volume in L after Nadler 1962, for adults and children above 35 kg.

    sex: `male` or `female`; height_m in m; weight_kg in kg. `ValueError` for anything else.
    """
    if sex not in NADLER:
        raise ValueError(f"Nadler's formula knows 'male' and 'female', not {sex!r}. Leave the estimate out.")
    for name, value in (("height_m", height_m), ("weight_kg", weight_kg)):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} is {value!r}. The estimate needs a length and a weight above 0.")
    cubic, linear, constant = NADLER[sex]
    return cubic * height_m**3 + linear * weight_kg + constant


@dataclass(frozen=True, slots=True)
class Age:
    """Completed years and months; a child born on 29 February turns on 1 March in other years."""

    years: int
    months: int

    @classmethod
    def on(cls, day: date, birth_date: date) -> Age:
        """The age on this day; a birth date still to come (another time zone's today) counts as newborn."""
        months = (day.year - birth_date.year) * 12 + day.month - birth_date.month
        if day.day < birth_date.day:
            months -= 1
        months = max(months, 0)
        return cls(months // 12, months)


def blood_ml(weight_kg: float, age: Age, tables: VolumeTables = VOLUME_TABLES) -> float:
    """A child's average blood volume in mL (practice BV-03)."""
    reached = [row for row in tables.blood_per_kg if row.from_months <= age.months]
    return weight_kg * reached[-1].ml_per_kg


def single_draw_ml(weight_kg: float, tables: VolumeTables = VOLUME_TABLES) -> float:
    """The most one draw may take from a child of this weight, in mL (practice BV-06).

    A gap between rows, a weight on which two rows meet, and a weight above the last row take the lower row.
    Under the lowest row 0: the table does not allow such a child a draw without a prescriber's word.
    """
    rows = tables.single_draws
    if weight_kg > rows[-1].to_kg:
        return rows[-1].ml
    # The first row that still reaches up to this weight, unless the weight lies in the gap below that row.
    place = next(place for place, row in enumerate(rows) if weight_kg <= row.to_kg)
    if weight_kg >= rows[place].from_kg:
        return rows[place].ml
    return rows[place - 1].ml if place else 0.0


def limit_ml(
    *,
    age: Age | None,
    weight_kg: float | None,
    drawn_24h_ml: float = 0.0,
    limits: Mapping[str, Limit] = VOLUME_LIMITS,
    tables: VolumeTables = VOLUME_TABLES,
) -> float | None:
    """The most this visit may draw, in mL, rounded to a thousandth; None: no limit (adults).

    Under 14 years the smaller of the single-draw table and what is left of 5 % of the blood volume in 24 h;
    from 14 to 17 only the latter. A child without a weight: 0. An unknown age has no limit: orders always carry
    a birth date, so only a request made by hand can lack it.
    """
    if age is None or age.years >= limits["adult_from_years"].value:
        return None
    if weight_kg is None:
        return 0.0
    share = limits["blood_share_percent"].value / 100 * blood_ml(weight_kg, age, tables)
    allowed = [share - drawn_24h_ml]
    if age.years < limits["child_below_years"].value:
        allowed.append(single_draw_ml(weight_kg, tables))
    return round(max(min(allowed), 0.0), 3)
