"""When a specimen must be in the laboratory, when a timed one may be drawn, and how long one stays good."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from bedside.clinical.directory import Test
from bedside.clinical.limits import Limit
from bedside.clinical.rulebook_volumes import VOLUME_LIMITS


def in_lab_by(tests: Iterable[Test], drawn_at: datetime) -> datetime | None:
    """The moment by which a container with these tests must be in the laboratory: its most urgent test's."""
    minutes = [test.in_lab_min for test in tests if test.in_lab_min is not None]
    return drawn_at + timedelta(minutes=min(minutes)) if minutes else None


def as_utc(moment: datetime) -> str:
    """A moment as the contract writes it: UTC, milliseconds, `Z`."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass(frozen=True, slots=True)
class Window:
    """From when to when a timed specimen may be drawn, both ends included, and the moment aimed at."""

    earliest: datetime
    aim: datetime
    latest: datetime

    def holds(self, moment: datetime) -> bool:
        return self.earliest <= moment <= self.latest


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """What an order says about a timed draw; None is not known.

    last_dose_at, next_dose_at: the dose before and after the draw.
    infusion_end_at: the end of the last infusion.
    first_draw_at, hours_after_first: of a series. on: the day of a morning specimen, in the ward's zone.
    """

    last_dose_at: datetime | None = None
    next_dose_at: datetime | None = None
    infusion_end_at: datetime | None = None
    first_draw_at: datetime | None = None
    hours_after_first: float | None = None
    on: date | None = None
    zone: tzinfo | None = None


def draw_window(timing: str, moments: Moments, limits: Mapping[str, Limit] = VOLUME_LIMITS) -> Window | None:
    """When a test of this timing word may be drawn; None when it is not timed or its moment is not known."""
    rule = _RULES.get(timing)
    return rule(moments, limits) if rule else None


def _trough(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    """Practice TD-01: at most 90 min before the next dose, best within the last 30; never after it."""
    dose = moments.next_dose_at
    if dose is None:
        return None
    return Window(
        dose - _minutes(limits, "trough_before_dose_max_min"),
        dose - _minutes(limits, "trough_before_dose_best_min"),
        dose,
    )


def _peak(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    """Practice TD-03: so many minutes after the end of the infusion."""
    if moments.infusion_end_at is None:
        return None
    aim = moments.infusion_end_at + _minutes(limits, "peak_after_infusion_min")
    slack = _minutes(limits, "timed_draw_slack_min")
    return Window(aim - slack, aim, aim + slack)


def _peak_or_trough(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    return _peak(moments, limits) or _trough(moments, limits)


def _serial(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    """Practice TD-08, TD-09: the next specimen of a series, from the first one's actual time."""
    if moments.first_draw_at is None or moments.hours_after_first is None:
        return None
    aim = moments.first_draw_at + timedelta(hours=moments.hours_after_first)
    slack = _minutes(limits, "serial_slack_min")
    return Window(aim - slack, aim, aim + slack)


def _after_digoxin(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    """Practice TD-04: not within 6 h of the dose, and within 24 h of it."""
    dose = moments.last_dose_at
    if dose is None:
        return None
    first = dose + _hours(limits, "digoxin_after_dose_min_h")
    return Window(first, first, dose + _hours(limits, "digoxin_after_dose_max_h"))


def _after_lithium(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    """Practice TD-07, from memory: 12 h after the dose."""
    if moments.last_dose_at is None:
        return None
    aim = moments.last_dose_at + _hours(limits, "lithium_after_dose_h")
    slack = _minutes(limits, "timed_draw_slack_min")
    return Window(aim - slack, aim, aim + slack)


def _morning(moments: Moments, limits: Mapping[str, Limit]) -> Window | None:
    """Practice TD-11: between 06 and 09 o'clock on the ward's own clock."""
    if moments.on is None or moments.zone is None:
        return None
    # In UTC: two times of one zone are compared by what their clocks show, also when these changed in between.
    start, end = (
        datetime.combine(moments.on, time(int(limits[name].value)), tzinfo=moments.zone).astimezone(UTC)
        for name in ("morning_from_h", "morning_to_h")
    )
    return Window(start, start, end)


_RULES = {
    "trough": _trough,
    "peak": _peak,
    "peak-or-trough": _peak_or_trough,
    "serial": _serial,
    "morning": _morning,
    "after-6h": _after_digoxin,
    "after-12h": _after_lithium,
}


def blood_bank_sample_good_until(drawn_on: date, zone: tzinfo, limits: Mapping[str, Limit] = VOLUME_LIMITS) -> datetime:
    """The last minute a pretransfusion sample may be used; the day of the draw is day 0 (practice ID-20)."""
    last_day = drawn_on + timedelta(days=limits["blood_bank_sample_days"].value)
    return datetime.combine(last_day, time(23, 59), tzinfo=zone)


def _minutes(limits: Mapping[str, Limit], name: str) -> timedelta:
    return timedelta(minutes=limits[name].value)


def _hours(limits: Mapping[str, Limit], name: str) -> timedelta:
    return timedelta(hours=limits[name].value)
