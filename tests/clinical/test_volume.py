"""How much blood a body holds and how much a visit may draw. Each row names its source."""

from __future__ import annotations

import math
from datetime import date

import pytest

from bedside.clinical.volume import Age, blood_ml, limit_ml, nadler_litres, single_draw_ml


def test_nadler_for_a_man_of_180_cm_and_80_kg():
    # W31, BV-01: Nadler 1962, secondary source, computed
    assert nadler_litres("male", 1.80, 80) == pytest.approx(5.319, abs=5e-4)


def test_nadler_for_a_woman_of_165_cm_and_60_kg():
    # W32, BV-01: Nadler 1962, secondary source, computed
    assert nadler_litres("female", 1.65, 60) == pytest.approx(3.768, abs=5e-4)


@pytest.mark.parametrize(
    ("sex", "height_m", "weight_kg"),
    [("other", 1.8, 80), ("male", 0, 80), ("male", 1.8, -1), ("female", math.nan, 60), ("male", math.inf, 60)],
)
def test_nadler_answers_no_nonsense(sex, height_m, weight_kg):
    with pytest.raises(ValueError):
        nadler_litres(sex, height_m, weight_kg)


# BV-06: Phlebotomy Handbook 8th ed 2010, in a hospital's table; the 5 mL row from memory.
# A gap takes the lower row (contract); so does a weight on which two rows meet.
@pytest.mark.parametrize(
    ("weight_kg", "ml"),
    [
        (2.6, 0.0),
        (2.7, 2.5),
        (3.6, 2.5),
        (3.7, 3.5),
        (4.5, 3.5),
        (4.6, 5.0),
        (6.8, 5.0),
        (7.0, 5.0),
        (7.2, 5.0),
        (7.3, 10.0),
        (18.2, 10.0),
        (18.4, 10.0),
        (18.6, 20.0),
        (20.0, 20.0),  # W35
        (27.3, 20.0),
        (27.5, 20.0),
        (27.7, 25.0),
        (29.5, 25.0),
        (29.8, 25.0),
        (30.0, 30.0),
        (45.5, 30.0),
        (45.6, 30.0),
    ],
)
def test_the_single_draw_table(weight_kg, ml):
    assert single_draw_ml(weight_kg) == ml


# BV-03: Harriet Lane averages, quoted by U. Michigan IRBMED 2022
@pytest.mark.parametrize(
    ("years", "months", "ml_per_kg"),
    [
        (0, 0, 80),
        (0, 1, 75),
        (0, 12, 75),
        (2, 24, 75),
        (3, 47, 75),
        (4, 48, 80),
        (6, 83, 80),
        (7, 84, 85),
        (17, 215, 85),
    ],
)
def test_blood_for_each_kilogram_by_age(years, months, ml_per_kg):
    assert blood_ml(10.0, Age(years, months)) == ml_per_kg * 10


def test_a_child_of_two_and_12_kg():
    # W34, BV-03 and BV-04: 900 mL of blood, 5 % of it 45 mL; the table's 10 mL is less
    assert blood_ml(12.0, Age(2, 24)) == 900
    assert limit_ml(age=Age(2, 24), weight_kg=12.0) == 10.0
    assert limit_ml(age=Age(2, 24), weight_kg=12.0, drawn_24h_ml=34.9) == 10.0
    assert limit_ml(age=Age(2, 24), weight_kg=12.0, drawn_24h_ml=36.0) == 9.0


def test_a_child_of_20_kg_may_give_20_ml():
    # W35, BV-06
    assert limit_ml(age=Age(6, 75), weight_kg=20.0) == 20.0


@pytest.mark.parametrize(
    ("age", "limit"),
    [
        # contract: under 14 the smaller of both; 14 to 17 only 5 % of 40 x 85 mL = 170; adults none
        (Age(13, 167), 30.0),
        (Age(14, 168), 170.0),
        (Age(17, 215), 170.0),
        (Age(18, 216), None),
    ],
)
def test_the_limit_changes_with_the_birthday(age, limit):
    assert limit_ml(age=age, weight_kg=40.0) == limit


def test_a_child_above_the_tables_last_row_keeps_that_row():
    # BV-06 ends at 45.5 kg; contract: a gap takes the lower row
    assert limit_ml(age=Age(13, 160), weight_kg=50.0) == 30.0


@pytest.mark.parametrize("age", [Age(0, 0), Age(13, 167), Age(17, 215)])
def test_without_a_weight_nothing_may_be_drawn(age):
    assert limit_ml(age=age, weight_kg=None) == 0.0


def test_an_adult_needs_no_weight():
    assert limit_ml(age=Age(18, 216), weight_kg=None, drawn_24h_ml=900.0) is None


def test_what_was_drawn_already_never_makes_the_limit_negative():
    assert limit_ml(age=Age(15, 180), weight_kg=40.0, drawn_24h_ml=500.0) == 0.0


@pytest.mark.parametrize(
    ("birth_date", "day", "years", "months"),
    [
        (date(2012, 11, 25), date(2026, 11, 24), 13, 167),
        (date(2012, 11, 25), date(2026, 11, 25), 14, 168),
        # born on a leap day: the birthday of other years is 1 March, the later and more careful day
        (date(2012, 2, 29), date(2026, 2, 28), 13, 167),
        (date(2012, 2, 29), date(2026, 3, 1), 14, 168),
        (date(2008, 2, 29), date(2024, 2, 29), 16, 192),
        (date(2026, 10, 31), date(2026, 11, 30), 0, 0),
        (date(2026, 10, 31), date(2026, 12, 1), 0, 1),
        # another time zone's today
        (date(2026, 11, 26), date(2026, 11, 25), 0, 0),
    ],
)
def test_age_in_completed_years_and_months(birth_date, day, years, months):
    assert Age.on(day, birth_date) == Age(years, months)


@pytest.mark.parametrize(
    ("weight_kg", "draw_ml", "month_ml"),
    [(11, 22, 44), (15, 30, 60), (16, 32, 64), (20, 40, 80), (21, 42, 84), (25, 50, 100), (26, 52, 104), (30, 60, 120)],
)
def test_a_hospitals_printed_chart_is_two_and_a_half_and_five_per_cent_of_the_blood(weight_kg, draw_ml, month_ml):
    # BV-08: a hospital's chart, secondary source; 80 mL/kg at 4-6 years: BV-03, Harriet Lane
    whole = blood_ml(weight_kg, Age(5, 60))

    assert (whole * 2.5 / 100, whole * 5 / 100) == (draw_ml, month_ml)
