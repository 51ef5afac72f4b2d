"""How much a patient may give at once, in a day, in eight weeks: at every edge, and 0.01 mL either side of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from bedside.clinical.directory import read_directory
from bedside.clinical.rulebook import Rulebook, default_book
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.clinical.volume import Age, Body, Given, allowance, anaemia_risk_ratio, expected_fall
from bedside.exchange.directory_file import built_in_directory

TODDLER = Body(age=Age(2, 24), weight_kg=12.0)
YOUTH = Body(age=Age(15, 180), weight_kg=40.0)
MAN = Body(age=Age(60, 720), sex="male", height_m=1.80, weight_kg=80.0)
WOMAN = Body(age=Age(60, 720), sex="female", height_m=1.65, weight_kg=60.0)


def book_with(**values: float) -> Rulebook:
    book = default_book()
    return replace(
        book, limits={**book.limits, **{name: replace(book.limits[name], value=n) for name, n in values.items()}}
    )


def test_a_child_of_two_and_12_kg_has_900_ml_and_may_give_45_in_a_day_and_90_in_eight_weeks():
    may = allowance(TODDLER, Given())

    # W34: BV-03 Harriet Lane, BV-04 Howie 2011; the single draw by BV-06
    assert (may.blood_ml, may.draw_ml, may.day_ml, may.eight_weeks_ml) == (900, 10.0, 45, 90)


def test_a_childs_blood_is_reckoned_by_weight_and_says_so():
    assert allowance(TODDLER, Given()).reckoned.startswith("75 mL for each kg; Harriet Lane")


def test_an_adults_blood_is_reckoned_by_nadler():
    # W31, W32: BV-01 Nadler 1962, secondary source
    assert allowance(MAN, Given()).blood_ml == pytest.approx(5319, abs=0.5)
    assert allowance(WOMAN, Given()).blood_ml == pytest.approx(3768, abs=0.5)
    assert allowance(MAN, Given()).reckoned == "Nadler 1962, by sex, height and weight"


@pytest.mark.parametrize("body", [replace(MAN, height_m=None), replace(MAN, sex="unknown")])
def test_an_adult_without_height_or_sex_is_reckoned_at_70_ml_for_each_kg(body):
    # BV-03: Harriet Lane, adult 70
    assert allowance(body, Given()).blood_ml == 5600


def test_an_adult_has_no_limit_unless_the_site_sets_one():
    # BV-13: none in the standards
    assert allowance(MAN, Given(day_ml=400.0)).left_ml is None


@pytest.mark.parametrize("body", [MAN, TODDLER, YOUTH])
def test_without_a_weight_an_adult_has_no_limit_and_a_child_may_give_nothing(body):
    expected = None if body is MAN else 0.0

    assert allowance(replace(body, weight_kg=None), Given()).left_ml == expected


@pytest.mark.parametrize(
    ("name", "given", "left"),
    [
        ("adult_draw_share_percent", Given(), 56.0),
        ("adult_draw_share_percent", Given(day_ml=500.0, eight_weeks_ml=500.0), 56.0),
        ("adult_day_share_percent", Given(day_ml=55.99), 0.01),
        ("adult_day_share_percent", Given(day_ml=56.0), 0.0),
        ("adult_day_share_percent", Given(day_ml=56.01), 0.0),
        ("adult_8_weeks_share_percent", Given(day_ml=0.0, eight_weeks_ml=55.99), 0.01),
        ("adult_8_weeks_share_percent", Given(day_ml=56.01, eight_weeks_ml=0.0), 0.0),
    ],
)
def test_a_sites_own_limit_for_adults(name, given, left):
    # 1 % of 5,600 mL
    body = replace(MAN, height_m=None)

    assert allowance(body, given, book_with(**{name: 1}).limits).left_ml == left


@pytest.mark.parametrize(
    ("given", "left"),
    [
        (Given(day_ml=35.0), 10.0),
        (Given(day_ml=35.01), 9.99),
        (Given(day_ml=34.99), 10.0),
        (Given(day_ml=44.99), 0.01),
        (Given(day_ml=45.0), 0.0),
        (Given(day_ml=45.01), 0.0),
        (Given(eight_weeks_ml=80.0), 10.0),
        (Given(eight_weeks_ml=80.01), 9.99),
        (Given(eight_weeks_ml=89.99), 0.01),
        (Given(eight_weeks_ml=90.0), 0.0),
        (Given(eight_weeks_ml=90.01), 0.0),
    ],
)
def test_what_a_child_gave_before_is_taken_off(given, left):
    # BV-04: 5 % in 24 h, 10 % in 8 weeks; BV-06: 10 mL at once
    assert allowance(TODDLER, given).left_ml == left


def test_a_site_may_set_a_share_for_one_draw_from_a_child():
    # BV-08: a hospital's chart, 2.5 % of blood volume for one draw; of 900 mL 22.5, above the table's 10
    assert allowance(TODDLER, Given(), book_with(child_draw_share_percent=1).limits).draw_ml == 9.0
    assert allowance(TODDLER, Given(), book_with(child_draw_share_percent=2.5).limits).draw_ml == 10.0
    assert allowance(YOUTH, Given(), book_with(child_draw_share_percent=2.5).limits).draw_ml == 85.0


@pytest.mark.parametrize(("drawn", "codes"), [(87.49, []), (87.5, []), (87.51, ["volume-over-limit"])])
def test_a_plan_of_exactly_what_is_left_of_eight_weeks_is_allowed(drawn, codes):
    patient = Measures(birth_date=date(2024, 11, 1), weight_kg=12.0, drawn_8_weeks_ml=drawn)
    request = TubeRequest(patient=patient, tests=("24321-2",), now=datetime(2026, 11, 25, 5, tzinfo=UTC))

    plan = plan_tubes(request, built_in_directory(), default_book())

    assert plan.total_ml == 2.5
    assert [finding.code for finding in plan.findings] == codes


@pytest.mark.parametrize(("drawn_ml", "haemoglobin", "hematocrit"), [(0, 0, 0), (100, 7.0, 1.9), (150, 10.5, 2.85)])
def test_what_a_loss_of_blood_takes_on_average(drawn_ml, haemoglobin, hematocrit):
    fall = expected_fall(drawn_ml)

    # W36, BV-09: Thavendiranathan 2005, JGIM 20:520-4
    assert (fall.haemoglobin_g_per_l, fall.hematocrit_points) == (haemoglobin, hematocrit)


@pytest.mark.parametrize(("adjusted", "ratio"), [(False, 1.392), (True, 1.323)])
def test_what_100_ml_more_went_with_after_a_heart_attack(adjusted, ratio):
    # W37, BV-10: Salisbury 2011, Arch Intern Med
    assert anaemia_risk_ratio(100, adjusted=adjusted) == pytest.approx(ratio, abs=0.0006)


@pytest.mark.parametrize(("drawn", "codes"), [(42.49, []), (42.5, []), (42.51, ["volume-over-limit"])])
def test_a_plan_of_exactly_what_is_left_of_a_day_is_allowed(drawn, codes):
    # W34: 45 mL in 24 h for 12 kg; the panel takes 2.5
    patient = Measures(birth_date=date(2024, 11, 1), weight_kg=12.0, drawn_24h_ml=drawn)
    request = TubeRequest(patient=patient, tests=("24321-2",), now=datetime(2026, 11, 25, 5, tzinfo=UTC))

    assert [finding.code for finding in plan_tubes(request, built_in_directory(), default_book()).findings] == codes


@pytest.mark.parametrize(("least", "codes"), [("3.49", []), ("3.5", []), ("3.51", ["volume-over-limit"])])
def test_a_plan_of_exactly_one_draw_is_allowed(least, codes):
    # BV-06: 3.5 mL at once from 3.6 to 4.5 kg
    directory = read_directory(f"code,name,section,containers,min_ml,source\nA,A,a,serum,{least},the laboratory\n")
    patient = Measures(birth_date=date(2026, 11, 1), weight_kg=4.0)
    request = TubeRequest(patient=patient, tests=("A",), now=datetime(2026, 11, 25, 5, tzinfo=UTC))

    plan = plan_tubes(request, directory, default_book())

    assert (plan.total_ml, [finding.code for finding in plan.findings]) == (float(least), codes)
