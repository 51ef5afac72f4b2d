"""Intervals against published values and other people's numerics (scipy), which the app does without."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from bedside.reports.rates import NotACount, chance_of_at_least, poisson_exact, wilson


# W46, QI-27: Newcombe 1998 (first four: from memory, recomputed) and a public README (last three).
@pytest.mark.parametrize(
    ("events", "total", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (10, 14, 0.4535, 0.8828),
        (430, 474, 0.8777, 0.9301),
        (392, 436, 0.8672, 0.9240),
    ],
)
def test_a_share_has_its_published_interval(events, total, low, high):
    assert wilson(events, total) == pytest.approx((low, high), abs=5e-5)


# W48, QI-28: Garwood 1936 (from memory, recomputed).
@pytest.mark.parametrize(
    ("events", "low", "high"),
    [
        (0, 0.0, 3.6889),
        (1, 0.0253, 5.5716),
        (2, 0.2422, 7.2247),
        (3, 0.6187, 8.7673),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
        (20, 12.2165, 30.8884),
    ],
)
def test_a_count_has_its_published_interval(events, low, high):
    assert poisson_exact(events) == pytest.approx((low, high), abs=5e-5)


def test_nothing_seen_says_nothing():
    assert wilson(0, 0) == (0.0, 1.0)


def test_none_and_all_reach_the_very_ends():
    assert wilson(0, 20)[0] == 0.0
    assert wilson(20, 20)[1] == 1.0
    assert poisson_exact(0)[0] == 0.0


def test_outpatient_success_is_a_share_known_closely():
    # W50, RD-06: 829 723 of 833 289
    low, high = wilson(829_723, 833_289)

    assert pytest.approx(0.99572, abs=5e-6) == 829_723 / 833_289
    assert low < 0.99572 < high
    assert high - low < 0.0003


@given(st.data())
def test_every_share_agrees_with_other_peoples_numerics(data):
    total = data.draw(st.integers(min_value=1, max_value=2_000_000))
    events = data.draw(st.integers(min_value=0, max_value=total))
    theirs = stats.binomtest(events, total).proportion_ci(0.95, method="wilson")

    assert wilson(events, total) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@given(st.integers(min_value=0, max_value=200_000))
def test_every_count_agrees_with_other_peoples_numerics(events):
    low = stats.chi2.ppf(0.025, 2 * events) / 2 if events else 0.0
    high = stats.chi2.ppf(0.975, 2 * events + 2) / 2

    assert poisson_exact(events) == pytest.approx((low, high), rel=1e-8)


@given(events=st.integers(min_value=0, max_value=500), mean=st.floats(min_value=0, max_value=700))
def test_every_chance_agrees_with_other_peoples_numerics(events, mean):
    assert chance_of_at_least(events, mean) == pytest.approx(stats.poisson.sf(events - 1, mean), abs=1e-11)


@pytest.mark.parametrize(("events", "total"), [(-1, 5), (6, 5), (1, 0), (0, -1)])
def test_what_was_not_counted_has_no_share(events, total):
    with pytest.raises(NotACount):
        wilson(events, total)


def test_a_negative_count_is_refused():
    with pytest.raises(NotACount):
        poisson_exact(-1)


def test_the_reports_need_no_scientific_library():
    code = (
        "import sys; import bedside.reports.rates, bedside.reports.charts; "
        "print([name for name in ('scipy', 'numpy') if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert told.stdout.strip() == "[]"
