"""Control charts against the data NIST publishes for them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedside.reports.charts import NotAChart, limits

# QI-21: NIST e-Handbook 6.3.3.2, 30 wafers of 50 chips
NIST_P = [
    12,
    15,
    8,
    10,
    4,
    7,
    16,
    9,
    14,
    10,
    5,
    6,
    17,
    12,
    22,
    8,
    10,
    5,
    13,
    11,
    20,
    18,
    24,
    15,
    9,
    12,
    7,
    13,
    9,
    6,
]
# QI-22: NIST e-Handbook 6.3.3.1, 25 wafers
NIST_C = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]


def test_shares_of_wafers_have_the_published_limits():
    # W43
    chart = limits("p", NIST_P, [50] * 30)

    assert chart.centre == pytest.approx(0.23133, abs=2e-4)
    assert chart.upper == pytest.approx([0.41024] * 30, abs=2e-4)
    assert chart.lower == pytest.approx([0.05243] * 30, abs=2e-4)
    assert [place + 1 for place in chart.out] == [15, 23]


def test_counts_on_wafers_have_the_published_limits():
    # W44: wafer 3 (28) is on the limit, and on is not outside
    chart = limits("c", NIST_C, None)

    assert chart.centre == 16
    assert (chart.lower[0], chart.upper[0]) == (4, 28)
    assert [place + 1 for place in chart.out] == [24]


@pytest.mark.parametrize(("last", "out"), [(27, []), (28, []), (29, [24])])
def test_outside_means_strictly_outside(last, out):
    # just inside, exactly on, just outside a limit that the other wafers and this one set together
    others = [16] * 23 + [16 + (16 - last)]
    chart = limits("c", [*others, last])

    assert chart.centre == 16
    assert chart.upper[-1] == 28
    assert [place for place in chart.out if place == 24] == out


def test_a_share_exactly_on_its_limit_is_not_pushed_outside_by_rounding():
    # mean 1/10 of 100 chances: 0.1 + 3 x 0.03 = 0.19, a sum that binary fractions miss
    chart = limits("p", [19, 10, 10, 1], [100] * 4)

    assert chart.centre == pytest.approx(0.1)
    assert chart.out == []


def test_incidents_by_work_done_widen_where_little_was_done():
    # QI-23: ubar = 12 / 600; 3 sqrt(0.02 / n)
    chart = limits("u", [2, 8, 2], [100, 400, 100])

    assert chart.centre == pytest.approx(0.02)
    assert chart.upper == pytest.approx([0.02 + 0.0424264, 0.02 + 0.0212132, 0.02 + 0.0424264])
    assert chart.lower == [0.0, 0.0, 0.0]


def test_draws_between_rare_events_follow_the_geometric_deviation():
    # QI-30, from memory: mean 100, deviation sqrt(100 x 101) = 100.4988, floor 0
    chart = limits("g", [50, 150, 100, 100])

    assert chart.centre == 100
    assert chart.upper == pytest.approx([401.4963] * 4, abs=1e-4)
    assert chart.lower == [0.0] * 4


def test_a_long_quiet_stretch_stands_out():
    chart = limits("g", [*[10] * 20, 100], None)

    assert chart.out == [20]


def test_no_events_at_all_is_a_flat_line_with_nothing_outside():
    for chart in (limits("p", [0, 0], [10, 20]), limits("u", [0, 0], [10, 20]), limits("c", [0, 0])):
        assert (chart.centre, chart.lower, chart.upper, chart.out) == (0.0, [0.0, 0.0], [0.0, 0.0], [])


def test_everything_going_wrong_is_a_flat_line_too():
    assert limits("p", [10, 20], [10, 20]).out == []


@pytest.mark.parametrize(
    ("kind", "counts", "sizes"),
    [
        ("x", [1], None),
        ("c", [], None),
        ("c", [-1], None),
        ("c", [1], [1]),
        ("g", [1], [1]),
        ("p", [1], None),
        ("u", [1], [1, 2]),
        ("u", [1], [0]),
        ("p", [2], [1]),
    ],
)
def test_numbers_no_chart_can_show_are_refused(kind, counts, sizes):
    with pytest.raises(NotAChart):
        limits(kind, counts, sizes)


@given(st.lists(st.integers(min_value=0, max_value=1000), min_size=1, max_size=40), st.sampled_from(["c", "g"]))
def test_the_lines_enclose_the_centre_and_name_exactly_the_points_beyond_them(counts, kind):
    chart = limits(kind, counts)
    beyond = [
        place
        for place, (point, low, high) in enumerate(zip(chart.points, chart.lower, chart.upper, strict=True))
        if (point < low and not math.isclose(point, low)) or (point > high and not math.isclose(point, high))
    ]

    assert all(low <= chart.centre <= high for low, high in zip(chart.lower, chart.upper, strict=True))
    assert beyond == chart.out
