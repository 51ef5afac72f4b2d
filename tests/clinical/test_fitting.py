"""Over a patient's limit: which tests are drawn, by priority, and which wait."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from bedside.clinical.fitting import fit
from bedside.clinical.rulebook import default_book
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory

NOW = datetime(2026, 11, 25, 5, 0, tzinfo=UTC)
DIRECTORY, BOOK = built_in_directory(), default_book()
BMP, CBC, INR, LACTATE, CREATININE, CULTURE = "24321-2", "58410-2", "6301-6", "32693-4", "2160-0", "600-7"


def child_of_4_kg(
    *tests: str, drawn: float = 0.0, allowed: float | None = None, needle: str = "straight"
) -> TubeRequest:
    """3.5 mL at once by the single-draw table (BV-06: 3.6 to 4.5 kg)."""
    patient = Measures(birth_date=date(2026, 11, 1), weight_kg=4.0, drawn_24h_ml=drawn, allowed_ml=allowed)
    return TubeRequest(patient=patient, tests=tests, now=NOW, needle=needle)


def test_what_fits_under_the_limit_waits_for_nothing():
    fitted = fit(child_of_4_kg(BMP), {BMP: 0}, DIRECTORY, BOOK)

    assert (fitted.fits, fitted.waits) == ((BMP,), ())


def test_the_most_pressing_goes_first_whatever_the_sequence():
    fitted = fit(child_of_4_kg(BMP, CBC), {BMP: 3, CBC: 0}, DIRECTORY, BOOK)

    assert (fitted.fits, fitted.waits) == ((CBC,), (BMP,))
    assert fitted.plan.total_ml == 2.0


def test_a_smaller_test_goes_where_a_larger_one_of_more_weight_does_not_fit():
    # 16 mL a day (5 % of 320), 13.4 of them drawn: the type and screen takes 3, the metabolic panel 2.5.
    fitted = fit(child_of_4_kg("34532-2", BMP, drawn=13.4), {"34532-2": 0, BMP: 1}, DIRECTORY, BOOK)

    assert (fitted.fits, fitted.waits) == ((BMP,), ("34532-2",))


def test_a_test_that_goes_along_in_a_tube_drawn_anyway_does_not_wait():
    fitted = fit(child_of_4_kg(CBC, BMP, CREATININE), {CBC: 3, BMP: 0, CREATININE: 3}, DIRECTORY, BOOK)

    assert (fitted.fits, fitted.waits) == ((BMP, CREATININE), (CBC,))


def test_a_culture_that_spares_the_discard_takes_the_citrate_along():
    # 5 kg, 16 of 20 mL drawn today, so 4 may be. A winged set needs 2 mL of discard before 2.7 mL of citrate, which is
    # too much; behind a culture bottle of 1 mL there is no discard (OD-15), and both fit.
    patient = Measures(birth_date=date(2026, 11, 1), weight_kg=5.0, drawn_24h_ml=16.0)
    request = TubeRequest(patient=patient, tests=(INR, CULTURE), now=NOW, needle="winged")

    fitted = fit(request, {INR: 0, CULTURE: 1}, DIRECTORY, BOOK)

    assert (fitted.fits, fitted.waits, fitted.plan.total_ml) == ((INR, CULTURE), (), 3.7)
    assert fit(replace(request, tests=(INR,)), {INR: 0}, DIRECTORY, BOOK).waits == (INR,)
    third = fit(replace(request, tests=(INR, CULTURE, BMP)), {INR: 0, CULTURE: 1, BMP: 2}, DIRECTORY, BOOK)
    assert (third.fits, third.waits) == ((CULTURE, BMP), (INR,))


def test_nothing_is_dropped_and_the_plan_stays_under_the_limit():
    codes = (BMP, CBC, INR, LACTATE, CREATININE, CULTURE)
    for drawn in (0.0, 5.0, 10.0, 14.0, 16.5, 20.0):
        request = child_of_4_kg(*codes, drawn=drawn)

        fitted = fit(request, dict.fromkeys(codes, 1), DIRECTORY, BOOK)

        assert sorted((*fitted.fits, *fitted.waits)) == sorted(codes)
        assert fitted.plan.total_ml <= fitted.plan.limit_ml
        for code in fitted.waits:
            more = plan_tubes(child_of_4_kg(*fitted.fits, code, drawn=drawn), DIRECTORY, BOOK)
            assert more.total_ml > more.limit_ml


def test_what_a_named_person_allowed_counts_where_it_is_more():
    fitted = fit(child_of_4_kg(BMP, CBC, allowed=4.5), {BMP: 0, CBC: 1}, DIRECTORY, BOOK)
    less = fit(child_of_4_kg(BMP, CBC, allowed=4.49), {BMP: 0, CBC: 1}, DIRECTORY, BOOK)

    assert fitted.waits == ()
    assert less.waits == (CBC,)
