"""When a timed specimen may be drawn and how long one stays good. Each row names its source."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bedside.clinical.directory import TIMING_WORDS
from bedside.clinical.timing import Moments, as_utc, blood_bank_sample_good_until, draw_window, in_lab_by
from bedside.exchange.directory_file import built_in_directory


def at(clock: str) -> datetime:
    hour, minute = clock.split(":")
    return datetime(2026, 11, 25, int(hour), int(minute), tzinfo=UTC)


def test_a_gentamicin_peak_is_half_an_hour_after_the_infusion():
    window = draw_window("peak", Moments(infusion_end_at=at("09:00")))

    # W55, TD-03: a hospital's laboratory handbook, secondary source
    assert window.aim == at("09:30")


def test_the_second_troponin_is_an_hour_after_the_first():
    window = draw_window("serial", Moments(first_draw_at=at("06:00"), hours_after_first=1))

    # W57, TD-08: ESC 2020; 10 min either way from memory (TD-09)
    assert (window.earliest, window.aim, window.latest) == (at("06:50"), at("07:00"), at("07:10"))


@pytest.mark.parametrize(
    ("drawn", "allowed"),
    [("13:30", False), ("13:59", False), ("14:00", True), ("14:01", True)],
)
def test_digoxin_is_not_drawn_within_six_hours_of_the_dose(drawn, allowed):
    # W53, TD-04: Australian Prescriber; a hospital's laboratory handbook
    assert draw_window("after-6h", Moments(last_dose_at=at("08:00"))).holds(at(drawn)) == allowed


@pytest.mark.parametrize(
    ("drawn", "allowed"),
    [("06:29", False), ("06:30", True), ("07:30", True), ("08:00", True), ("08:01", False)],
)
def test_a_trough_is_drawn_in_the_90_minutes_before_the_dose(drawn, allowed):
    window = draw_window("trough", Moments(next_dose_at=at("08:00")))

    # TD-01: a hospital's laboratory handbook, secondary source; 30 min optimal
    assert window.holds(at(drawn)) == allowed
    assert window.aim == at("07:30")


def test_lithium_is_drawn_twelve_hours_after_the_dose():
    # TD-07, from memory
    assert draw_window("after-12h", Moments(last_dose_at=at("18:00"))).aim == at("18:00") + timedelta(hours=12)


def test_a_level_is_a_peak_once_an_infusion_ended_and_else_a_trough():
    # TD-03: practice section 14 row 49, peak or trough as ordered
    assert draw_window("peak-or-trough", Moments(infusion_end_at=at("09:00"))).aim == at("09:30")
    assert draw_window("peak-or-trough", Moments(next_dose_at=at("08:00"))).aim == at("07:30")


def test_morning_is_told_by_the_wards_own_clock():
    lisbon = ZoneInfo("Europe/Lisbon")
    window = draw_window("morning", Moments(on=date(2026, 7, 1), zone=lisbon))

    # TD-11: 06 to 09 o'clock, CLSI GP41, from memory; in July Lisbon is an hour ahead of UTC
    assert as_utc(window.earliest) == "2026-07-01T05:00:00.000Z"
    assert as_utc(window.latest) == "2026-07-01T08:00:00.000Z"


@pytest.mark.parametrize("timing", [*TIMING_WORDS, ""])
def test_without_its_moment_a_draw_has_no_window(timing):
    assert draw_window(timing, Moments()) is None


def test_a_blood_bank_sample_is_good_for_three_days_after_the_day_of_the_draw():
    zone = ZoneInfo("Europe/Lisbon")

    # W58, ID-20: AABB Standards 5.14.3.2, from memory; drawn 25 November, good through 28 November 23:59
    assert blood_bank_sample_good_until(date(2026, 11, 25), zone) == datetime(2026, 11, 28, 23, 59, tzinfo=zone)


def test_the_most_urgent_test_of_a_tube_sets_when_it_is_due():
    directory = built_in_directory()
    tests = [directory.find(code) for code in ("5902-2", "14979-9")]

    # contract: aPTT 60 min; PT none
    assert in_lab_by(tests, at("05:00")) == at("06:00")
    assert in_lab_by([*tests, directory.find("32693-4")], at("05:00")) == at("05:15")
    assert in_lab_by(tests[:1], at("05:00")) is None
