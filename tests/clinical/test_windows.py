"""When an order may be drawn and how it stands: by priority, by the kind of level, and when the clocks change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bedside.clinical.windows import Ordered, drawn_beside, stands, window_of

LISBON, HELSINKI = ZoneInfo("Europe/Lisbon"), ZoneInfo("Europe/Helsinki")


def at(clock: str, day: int = 25) -> datetime:
    hour, minute = clock.split(":")
    return datetime(2026, 11, day, int(hour), int(minute), tzinfo=UTC)


def ordered(timing: str = "", priority: str = "routine", **known: object) -> Ordered:
    return Ordered(timing=timing, priority=priority, due_from=at("05:00"), due_to=at("09:00"), **known)


def spans(window) -> tuple[str, str, str]:
    return tuple(f"{moment:%H:%M}" for moment in (window.earliest, window.aim, window.latest))


@pytest.mark.parametrize(
    ("priority", "aim"),
    # TD-12, from memory: STAT at once; the others by site settings
    [("stat", "05:00"), ("asap", "05:30"), ("urgent", "06:00"), ("routine", "08:00")],
)
def test_the_more_pressing_an_order_the_sooner_it_is_aimed_at(priority, aim):
    when = window_of(ordered(priority=priority), LISBON)

    assert spans(when.window) == ("05:00", aim, "09:00")
    assert (when.follows, when.is_level) == ("priority", False)


@pytest.mark.parametrize("priority", ["asap", "urgent", "routine"])
def test_a_short_window_aims_inside_itself(priority):
    short = replace(ordered(priority=priority), due_to=at("05:10"))

    window = window_of(short, LISBON).window

    assert window.earliest <= window.aim <= window.latest


@pytest.mark.parametrize(
    ("timing", "known", "window", "follows"),
    [
        # TD-01: 90 min before the dose, best in the last 30
        ("trough", {"dose_at": at("08:00")}, ("06:30", "07:30", "08:00"), "trough"),
        # W55, TD-03: 30 min after the end of the infusion; 15 min either way from memory
        ("peak-or-trough", {"infusion_end_at": at("09:00")}, ("09:15", "09:30", "09:45"), "peak"),
        ("peak-or-trough", {"dose_at": at("08:00")}, ("06:30", "07:30", "08:00"), "trough"),
        # W53, TD-04: digoxin not within 6 h of the dose
        ("after-6h", {"dose_at": at("08:00")}, ("14:00", "14:00", "08:00"), "after-6h"),
        # TD-07, from memory: lithium 12 h after the dose
        ("after-12h", {"dose_at": at("18:00", 24)}, ("05:45", "06:00", "06:15"), "after-12h"),
        # W57, TD-08, TD-09: ESC 0/1 h; 10 min either way
        ("serial", {"first_at": at("06:00"), "after_min": 60}, ("06:50", "07:00", "07:10"), "serial"),
        # TD-10: 120 min from the first sip; 5 min either way from memory
        ("load", {"first_at": at("06:00"), "after_min": 120}, ("07:55", "08:00", "08:05"), "load"),
        # TD-11: 06 to 09 by the ward's clock, as far as the order allows; Lisbon keeps UTC in November
        ("morning", {}, ("06:00", "06:00", "09:00"), "morning"),
    ],
)
def test_the_window_of_a_level(timing, known, window, follows):
    when = window_of(ordered(timing, **known), LISBON)

    assert (spans(when.window), when.follows, when.is_level) == (window, follows, True)


@pytest.mark.parametrize(
    ("timing", "lacks"),
    [
        ("trough", "the time of the next dose"),
        ("peak", "the end of the infusion"),
        ("peak-or-trough", "the end of the infusion, or the time of the next dose"),
        ("after-6h", "the time of the last dose"),
        ("after-12h", "the time of the last dose"),
        ("serial", ""),
        ("", ""),
    ],
)
def test_a_level_whose_moment_nobody_said_keeps_the_orders_window_and_says_what_is_missing(timing, lacks):
    when = window_of(ordered(timing), LISBON)

    assert (when.follows, when.lacks, spans(when.window)[0]) == ("priority", lacks, "05:00")


def test_a_later_specimen_of_a_series_waits_for_the_first_ones_time():
    assert window_of(ordered("serial", after_min=60), LISBON).lacks == "the first specimen's time"


def test_a_window_somebody_gave_by_hand_counts_as_it_stands():
    when = window_of(ordered("trough", dose_at=at("08:00"), by_hand=True), LISBON)

    assert (when.follows, spans(when.window)) == ("priority", ("05:00", "08:00", "09:00"))


def test_a_morning_specimen_ordered_for_the_afternoon_keeps_the_orders_window():
    afternoon = replace(ordered("morning"), due_from=at("14:00"), due_to=at("16:00"))

    assert window_of(afternoon, LISBON).follows == "priority"


def test_a_morning_specimen_ordered_overnight_is_the_next_mornings():
    overnight = replace(ordered("morning"), due_from=at("22:00", 24), due_to=at("12:00"))

    assert spans(window_of(overnight, LISBON).window) == ("06:00", "06:00", "09:00")


@pytest.mark.parametrize(
    ("clock", "word"),
    [
        ("06:29", "too-early"), ("06:30", "open"), ("07:29", "open"), ("07:30", "due"), ("08:00", "due"),
        ("08:01", "missed"),
    ],
)  # fmt: skip
def test_a_trough_is_missed_once_the_dose_is_due(clock, word):
    when = window_of(ordered("trough", dose_at=at("08:00")), LISBON)

    assert stands(when, at(clock)) == word


@pytest.mark.parametrize(
    ("clock", "word"),
    [
        ("04:59", "too-early"), ("05:00", "open"), ("08:00", "due"), ("09:00", "due"), ("09:01", "late"),
        ("13:00", "late"), ("13:01", "missed"),
    ],
)  # fmt: skip
def test_what_merely_waits_is_late_first_and_missed_four_hours_later(clock, word):
    assert stands(window_of(ordered(), LISBON), at(clock)) == word


@pytest.mark.parametrize(("drawn", "minutes"), [("13:30", -30), ("13:59", -1), ("14:00", 0), ("15:00", 0)])
def test_a_digoxin_drawn_too_soon_after_the_dose_is_beside_its_window(drawn, minutes):
    # W53, TD-04: dose 08:00; 13:30 too early, 14:00 right
    when = window_of(ordered("after-6h", dose_at=at("08:00")), LISBON)

    assert drawn_beside(when, at(drawn)) == timedelta(minutes=minutes)


def test_a_specimen_drawn_after_its_window_says_how_long_after():
    when = window_of(ordered("serial", first_at=at("06:00"), after_min=60), LISBON)

    assert drawn_beside(when, at("07:25")) == timedelta(minutes=15)


# --- the nights on which the clocks change: 2026-03-29 and 2026-10-25 in Europe ------------------------


def test_six_hours_after_a_dose_are_six_hours_when_the_clocks_go_forward():
    dose = datetime(2026, 3, 29, 0, 30, tzinfo=LISBON)  # 00:30 UTC; at 01:00 the clocks go to 02:00
    when = window_of(replace(ordered("after-6h"), dose_at=dose), LISBON)

    assert when.window.earliest == datetime(2026, 3, 29, 6, 30, tzinfo=UTC)
    assert when.window.earliest.astimezone(LISBON).hour == 7


def test_six_hours_after_a_dose_are_six_hours_when_the_clocks_go_back():
    dose = datetime(2026, 10, 25, 0, 30, tzinfo=LISBON)  # 23:30 UTC the day before
    when = window_of(replace(ordered("after-6h"), dose_at=dose), LISBON)

    assert when.window.earliest == datetime(2026, 10, 25, 5, 30, tzinfo=UTC)
    assert when.window.earliest.astimezone(LISBON).hour == 5


def test_the_hour_that_comes_twice_is_told_apart():
    # Helsinki goes back from 04:00 to 03:00 on 25 October 2026: 03:30 is 00:30 UTC, and again 01:30 UTC.
    first = datetime(2026, 10, 25, 3, 30, tzinfo=HELSINKI)
    second = first.replace(fold=1)
    when = window_of(replace(ordered("serial", after_min=60), first_at=first), HELSINKI)

    assert when.window.aim == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert stands(when, first) == "too-early"
    assert stands(when, second) == "due"


def test_an_hour_after_the_first_specimen_is_an_hour_through_the_hour_that_is_missing():
    # Helsinki goes forward from 03:00 to 04:00 on 29 March 2026.
    first = datetime(2026, 3, 29, 2, 30, tzinfo=HELSINKI)
    when = window_of(replace(ordered("serial", after_min=60), first_at=first), HELSINKI)

    assert f"{when.window.aim.astimezone(HELSINKI):%H:%M}" == "04:30"


@pytest.mark.parametrize(("day", "utc"), [((2026, 3, 29), 3), ((2026, 10, 25), 4)])
def test_a_morning_is_the_wards_morning_on_the_day_after_such_a_night(day, utc):
    start = datetime(*day, tzinfo=UTC)
    night = Ordered(timing="morning", priority="routine", due_from=start, due_to=start + timedelta(hours=12))

    window = window_of(night, HELSINKI).window

    # 06 to 09 o'clock in Helsinki, three hours long on either day
    assert (window.earliest.hour, window.latest - window.earliest) == (utc, timedelta(hours=3))


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(HELSINKI)


FORWARD, BACK = local("2026-03-29T02:30+02:00"), local("2026-10-25T03:30+03:00")
NIGHT_FORWARD = {"due_from": FORWARD, "due_to": local("2026-03-29T05:30+03:00")}
NIGHT_BACK = {"due_from": BACK, "due_to": local("2026-10-25T04:30+02:00")}

MORNING_BACK = {"due_from": local("2026-10-25T00:30+03:00"), "due_to": local("2026-10-25T12:00+02:00")}


@pytest.mark.parametrize(
    ("timing", "priority", "known", "window"),
    [
        # Helsinki, 29 March 2026: 03:00 is 04:00. All by the minute, worked by hand in UTC.
        ("", "stat", NIGHT_FORWARD, ("00:30", "00:30", "02:30")),
        ("", "asap", NIGHT_FORWARD, ("00:30", "01:00", "02:30")),
        ("", "urgent", NIGHT_FORWARD, ("00:30", "01:30", "02:30")),
        ("", "routine", NIGHT_FORWARD, ("00:30", "01:30", "02:30")),
        ("trough", "routine", {"dose_at": local("2026-03-29T04:30+03:00")}, ("00:00", "01:00", "01:30")),
        ("peak", "routine", {"infusion_end_at": local("2026-03-29T02:45+02:00")}, ("01:00", "01:15", "01:30")),
        ("after-6h", "routine", {"dose_at": local("2026-03-28T23:00+02:00")}, ("03:00", "03:00", "21:00")),
        ("after-12h", "routine", {"dose_at": local("2026-03-28T20:00+02:00")}, ("05:45", "06:00", "06:15")),
        ("serial", "routine", {"first_at": FORWARD, "after_min": 60}, ("01:20", "01:30", "01:40")),
        ("load", "routine", {"first_at": FORWARD, "after_min": 120}, ("02:25", "02:30", "02:35")),
        ("morning", "routine", {"due_from": local("2026-03-29T00:30+02:00")}, ("03:00", "03:00", "06:00")),
        # 25 October 2026: 04:00 is 03:00 once more.
        ("", "stat", NIGHT_BACK, ("00:30", "00:30", "02:30")),
        ("", "asap", NIGHT_BACK, ("00:30", "01:00", "02:30")),
        ("", "urgent", NIGHT_BACK, ("00:30", "01:30", "02:30")),
        ("", "routine", NIGHT_BACK, ("00:30", "01:30", "02:30")),
        ("trough", "routine", {"dose_at": local("2026-10-25T03:30+02:00")}, ("00:00", "01:00", "01:30")),
        ("peak", "routine", {"infusion_end_at": local("2026-10-25T03:45+03:00")}, ("01:00", "01:15", "01:30")),
        ("after-6h", "routine", {"dose_at": local("2026-10-24T23:00+03:00")}, ("02:00", "02:00", "20:00")),
        ("after-12h", "routine", {"dose_at": local("2026-10-24T20:00+03:00")}, ("04:45", "05:00", "05:15")),
        ("serial", "routine", {"first_at": BACK, "after_min": 60}, ("01:20", "01:30", "01:40")),
        ("load", "routine", {"first_at": BACK, "after_min": 120}, ("02:25", "02:30", "02:35")),
        ("morning", "routine", MORNING_BACK, ("04:00", "04:00", "07:00")),
    ],
)  # fmt: skip
def test_every_kind_of_window_has_its_minutes_on_the_nights_the_clocks_change(timing, priority, known, window):
    days = {"due_from": local("2026-03-28T12:00+02:00"), "due_to": local("2026-03-30T12:00+03:00")} | known

    found = window_of(Ordered(timing=timing, priority=priority, **days), HELSINKI)

    assert spans(found.window) == window
    assert found.follows == (timing or "priority")


def test_a_window_given_by_hand_keeps_the_levels_own_beside_it():
    when = window_of(ordered("trough", dose_at=at("08:00"), by_hand=True), LISBON)

    assert spans(when.window) == ("05:00", "08:00", "09:00")
    assert spans(when.own) == ("06:30", "07:30", "08:00")
    assert window_of(ordered("trough", by_hand=True), LISBON).own is None
