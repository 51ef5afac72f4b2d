"""What sharing containers saves against one container for each test."""

from __future__ import annotations

from datetime import UTC, datetime

from bedside.clinical.rulebook import default_book
from bedside.clinical.saving import saving
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory

DIRECTORY, BOOK = built_in_directory(), default_book()


def saved(*tests: str, needle: str = "straight"):
    request = TubeRequest(patient=Measures(), tests=tests, now=datetime(2026, 11, 25, 5, tzinfo=UTC), needle=needle)
    return saving(plan_tubes(request, DIRECTORY, BOOK), request, DIRECTORY, BOOK)


def test_two_tests_of_one_tube_save_the_smaller_draw_and_a_container():
    # BMP 2.5 mL and creatinine 2 mL share one gel tube of 2.5 mL.
    one = saved("24321-2", "2160-0")

    assert (one.tubes, one.ml, one.one_each_tubes, one.one_each_ml) == (1, 2.5, 2, 4.5)
    assert (one.saving_tubes, one.saving_ml) == (1, 2.0)


def test_tests_that_cannot_share_save_nothing():
    one = saved("24321-2", "58410-2")

    assert (one.saving_tubes, one.saving_ml) == (0, 0.0)


def test_a_test_asked_for_twice_counts_once():
    assert saved("24321-2", "BMP").one_each_tubes == 1


def test_the_discard_of_a_winged_set_stands_on_both_sides():
    # INR and aPTT share one full citrate tube of 2.7 mL behind a discard of 2 mL.
    one = saved("6301-6", "14979-9", needle="winged")

    assert (one.tubes, one.ml) == (2, 4.7)
    assert (one.one_each_tubes, one.one_each_ml) == (3, 7.4)


def test_what_is_drawn_comes_with_what_it_may_mean():
    # BV-09: 7 g/L and 1.9 points for each 100 mL
    told = saved("24321-2", "2160-0").as_json()

    assert (told["saving_ml"], told["haemoglobin_fall_g_per_l"], told["hematocrit_fall_points"]) == (2.0, 0.175, 0.048)
