"""How much blood: what a body holds, how old a child is, and how much one visit may draw."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from bedside.clinical.limits import Limit
from bedside.clinical.rulebook_volumes import VOLUME_LIMITS, VOLUME_TABLES, BloodPerKg, VolumeTables

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
    """The average blood volume of somebody of this age, in mL (practice BV-03)."""
    return weight_kg * _per_kg(age, tables).ml_per_kg


def _per_kg(age: Age, tables: VolumeTables) -> BloodPerKg:
    return [row for row in tables.blood_per_kg if row.from_months <= age.months][-1]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was drawn from a patient before, discards and failed tries included, in mL."""

    day_ml: float = 0.0
    eight_weeks_ml: float = 0.0

    def within_eight_weeks(self) -> float:
        """Never less than within the day, which lies inside them."""
        return max(self.day_ml, self.eight_weeks_ml)


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """How much blood a patient has and may give, in mL; None: not known, or no limit.

    reckoned: how the blood volume was reckoned, with its source; empty where it is not known.
    draw_ml, day_ml, eight_weeks_ml: the most in one draw, in 24 h, in 8 weeks, before what was given is taken off.
    """

    blood_ml: float | None
    reckoned: str
    draw_ml: float | None
    day_ml: float | None
    eight_weeks_ml: float | None
    given: Given

    @property
    def left_ml(self) -> float | None:
        """The most this visit may draw, rounded to a thousandth; None: no limit."""
        left = [
            self.draw_ml,
            None if self.day_ml is None else self.day_ml - self.given.day_ml,
            None if self.eight_weeks_ml is None else self.eight_weeks_ml - self.given.within_eight_weeks(),
        ]
        known = [ml for ml in left if ml is not None]
        return round(max(min(known), 0.0), 3) if known else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """What blood volume is reckoned from; None is not known."""

    age: Age | None = None
    sex: str | None = None
    height_m: float | None = None
    weight_kg: float | None = None


def allowance(
    body: Body,
    given: Given,
    limits: Mapping[str, Limit] = VOLUME_LIMITS,
    tables: VolumeTables = VOLUME_TABLES,
) -> Allowance:
    """What this patient may give: a child by the tables and the shares of blood volume, an adult by a site's setting.

    Under 14 years the single-draw table counts as well; a child without a weight may give nothing. An unknown age has
    no limit: orders always carry a birth date, so only a request made by hand can lack it.
    """
    if body.age is None:
        return Allowance(blood_ml=None, reckoned="", draw_ml=None, day_ml=None, eight_weeks_ml=None, given=given)
    is_adult = body.age.years >= limits["adult_from_years"].value
    whole, reckoned = _blood_of(body, body.age, is_adult, tables)
    if is_adult:
        shares = [_share(whole, limits[name].value) for name in _ADULT_SHARES]
    elif whole is None or body.weight_kg is None:
        shares = [0.0, 0.0, 0.0]
    else:
        shares = [_share(whole, limits[name].value) for name in _CHILD_SHARES]
        if body.age.years < limits["child_below_years"].value:
            table = single_draw_ml(body.weight_kg, tables)
            shares[0] = table if shares[0] is None else min(table, shares[0])
    draw, day, eight_weeks = shares
    return Allowance(
        blood_ml=whole, reckoned=reckoned, draw_ml=draw, day_ml=day, eight_weeks_ml=eight_weeks, given=given
    )


_CHILD_SHARES = ("child_draw_share_percent", "blood_share_percent", "blood_share_8_weeks_percent")
_ADULT_SHARES = ("adult_draw_share_percent", "adult_day_share_percent", "adult_8_weeks_share_percent")

NO_LIMIT_PERCENT = 100
"""A share of all the blood there is limits nothing."""


def _share(whole_ml: float | None, percent: float) -> float | None:
    if whole_ml is None or percent >= NO_LIMIT_PERCENT:
        return None
    return percent / 100 * whole_ml


def _blood_of(body: Body, age: Age, is_adult: bool, tables: VolumeTables) -> tuple[float | None, str]:
    """The whole blood volume in mL and how it was reckoned: Nadler's formula where it applies, else mL/kg."""
    if body.weight_kg is None:
        return None, ""
    if is_adult and body.sex in NADLER and body.height_m is not None:
        litres = nadler_litres(body.sex, body.height_m, body.weight_kg)
        return litres * 1000, "Nadler 1962, by sex, height and weight"
    row = _per_kg(age, tables)
    return body.weight_kg * row.ml_per_kg, f"{row.ml_per_kg:g} mL for each kg; {row.source}"


def limit_ml(
    *,
    age: Age | None,
    weight_kg: float | None,
    drawn_24h_ml: float = 0.0,
    drawn_8_weeks_ml: float = 0.0,
    limits: Mapping[str, Limit] = VOLUME_LIMITS,
    tables: VolumeTables = VOLUME_TABLES,
) -> float | None:
    """The most this visit may draw from somebody of this age and weight, in mL; None: no limit."""
    given = Given(day_ml=drawn_24h_ml, eight_weeks_ml=drawn_8_weeks_ml)
    return allowance(Body(age=age, weight_kg=weight_kg), given, limits, tables).left_ml


@dataclass(frozen=True, slots=True)
class Fall:
    """What a loss of blood may take from haemoglobin (g/L) and haematocrit (points of per cent)."""

    haemoglobin_g_per_l: float
    hematocrit_points: float


def expected_fall(drawn_ml: float, limits: Mapping[str, Limit] = VOLUME_LIMITS) -> Fall:
    """The average fall among inpatients of internal medicine (practice BV-09: Thavendiranathan 2005).

    An average of a group, no forecast for one patient. drawn_ml in mL.
    """
    hundreds = drawn_ml / 100
    return Fall(
        round(hundreds * limits["haemoglobin_fall_per_100_ml"].value, 3),
        round(hundreds * limits["hematocrit_fall_per_100_ml"].value, 3),
    )


# Salisbury 2011, Arch Intern Med (practice BV-10): n = 17 676, for each 50 mL; the second, other things being equal.
ANAEMIA_RISK_PER_50_ML, ANAEMIA_RISK_ADJUSTED = 1.18, 1.15


def anaemia_risk_ratio(more_ml: float, *, adjusted: bool = False) -> float:
    """How many times the risk of anaemia acquired in hospital, for so many mL more drawn from a patient.

    Among inpatients with a heart attack (practice BV-10: Salisbury 2011); a ratio of groups, no forecast for one.
    """
    ratio = ANAEMIA_RISK_ADJUSTED if adjusted else ANAEMIA_RISK_PER_50_ML
    return float(ratio ** (more_ml / 50))
