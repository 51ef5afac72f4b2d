"""What goes wrong how often: rates with intervals, and a control chart where there is enough to draw one. Pure.

A rate without its interval misleads on a ward: three faints in forty draws and in four thousand are not the
same news. Published figures stand beside for orientation; they come from other places and other years.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from bedside.records.incidents import EndedVisit
from bedside.records.moments import read_moment
from bedside.reports.charts import limits
from bedside.reports.rates import poisson_exact, wilson
from bedside.web.chart_lines import Chart, draw

PERIOD = timedelta(weeks=13)
"""A quarter (common practice, no source)."""

EXPECTED_MIN = 5
"""Expected events a point below which p and u charts mislead (QI-30: NIST / ISO 7870-2, from memory)."""

POINTS_MIN = 10
"""Points before limits are worth drawing (common practice, no source)."""


CHANCES_MIN = 20
"""Chances below which a share is not shown as a figure: one event more or less moves it by 5 % (common practice, no
source).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """What is counted, of what, in which unit, and what others have published."""

    name: str
    kinds: frozenset[str]
    of: str
    per: int
    unit: str
    published: str
    published_value: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """One rate for the page: sentence, and where its marks stand in percent of a short line."""

    name: str
    says: str
    published: str
    low_x: float
    value_x: float
    high_x: float
    published_x: float | None
    top_says: str
    is_known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartOrReason:
    """A control chart, or the sentence why there is none."""

    chart: Chart | None
    says: str
    source: str


MEASURES = (
    Measure(
        name="Unable to obtain",
        kinds=frozenset({"no_vein"}),
        of="needled visits",
        per=100,
        unit="%",
        published="",
        published_value=None,
    ),
    Measure(
        name="Fainting",
        kinds=frozenset({"faint"}),
        of="needled visits",
        per=100,
        unit="%",
        published="0.2 to 0.7 % published (AE-02: Martens 2017)",
        published_value=0.7,
    ),
    Measure(
        name="Haematoma",
        kinds=frozenset({"haematoma"}),
        of="needled visits",
        per=100,
        unit="%",
        published="12.3 % bruise or haematoma published (AE-01: Galena 1992, patients looked at afterwards)",
        published_value=12.3,
    ),
    Measure(
        name="Needlestick",
        kinds=frozenset({"needlestick"}),
        of="needled visits",
        per=10_000,
        unit="per 10,000",
        published="slightly under 1 per 10,000 published (AE-06: Howanitz and Schifman 1994)",
        published_value=1.0,
    ),
    Measure(
        name="Wrong label or wrong patient",
        kinds=frozenset({"mislabel_caught", "wrong_patient"}),
        of="labels read",
        per=1_000,
        unit="per 1,000",
        published="0.92 per 1,000 labels published (QI-01: Wagar 2008)",
        published_value=0.92,
    ),
    Measure(
        name="Refused",
        kinds=frozenset({"refused"}),
        of="ended visits",
        per=100,
        unit="%",
        published="",
        published_value=None,
    ),
)


def rates(visits: Sequence[EndedVisit], now: datetime) -> tuple[Rate, ...]:
    """Every measure over the last quarter."""
    recent = [visit for visit in visits if now - read_moment(visit.ended_at) <= PERIOD]
    chances = {
        "needled visits": sum(1 for visit in recent if visit.needles),
        "labels read": sum(visit.tubes_read for visit in recent),
        "ended visits": len(recent),
    }
    return tuple(_rate(measure, _events(measure, recent), chances[measure.of]) for measure in MEASURES)


def _events(measure: Measure, visits: Sequence[EndedVisit]) -> int:
    """Visits in which it happened, at most once each; needlesticks and labels can only be counted so, too."""
    return sum(1 for visit in visits if measure.kinds & {visit.outcome, *visit.incidents})


def _rate(measure: Measure, events: int, chances: int) -> Rate:
    if chances == 0 or events > chances:
        return _unknown(measure, events, chances)
    if chances < CHANCES_MIN:
        return replace(_unknown(measure, events, chances), says=_too_few(f"{events} of {chances} {measure.of}"))
    low, high = (share * measure.per for share in wilson(events, chances))
    value = events / chances * measure.per
    top = max(high, measure.published_value or 0) * 1.05
    return Rate(
        name=measure.name,
        says=f"{events} of {chances:,} {measure.of}: {figure(value)} {measure.unit} ({figure(low)} to {figure(high)})",
        published=measure.published,
        low_x=_percent(low, top),
        value_x=_percent(value, top),
        high_x=_percent(high, top),
        published_x=_percent(measure.published_value, top) if measure.published_value else None,
        top_says=f"{figure(top)} {measure.unit}",
        is_known=True,
    )


def _unknown(measure: Measure, events: int, chances: int) -> Rate:
    """Nothing to divide by, or more events than chances because labels were not read: no rate is honest."""
    seen = f"{events} happened, but only" if events else "There were"
    return Rate(
        name=measure.name,
        says=f"{seen} {chances or 'no'} {measure.of} in the last 13 weeks.",
        published=measure.published,
        low_x=0,
        value_x=0,
        high_x=0,
        published_x=None,
        top_says="",
        is_known=False,
    )


def _too_few(counted: str) -> str:
    return f"{counted}: too few to read."


def figure(value: float) -> str:
    """A rate with as many digits as it deserves: 4,340, 62, 3.6, 0.25."""
    if value >= 10:
        return f"{value:,.0f}"
    return f"{value:.1f}" if value >= 1 else f"{value:.2g}"


def overall(visits: Sequence[EndedVisit], now: datetime) -> str:
    """Every incident of the quarter against its needled visits, in one sentence with its interval."""
    recent = [visit for visit in visits if now - read_moment(visit.ended_at) <= PERIOD]
    draws = sum(1 for visit in recent if visit.needles)
    incidents = sum(len(visit.incidents) for visit in recent)
    if not draws:
        return "No needle has been used in the last 13 weeks, so there is no rate."
    if draws < CHANCES_MIN:
        counted = f"{_many(incidents, 'incident')} in {_many(draws, 'needled visit')} of the last 13 weeks"
        return _too_few(counted)
    rate, low, high = (100 * count / draws for count in (incidents, *poisson_exact(incidents)))
    return (
        f"{_many(incidents, 'incident')} in {_many(draws, 'needled visit')} of the last 13 weeks: "
        f"{figure(rate)} for each 100 (95 % interval {figure(low)} to {figure(high)})."
    )


def _percent(value: float, top: float) -> float:
    return round(value / top * 100, 2)


def incidents_chart(visits: Sequence[EndedVisit], now: datetime, zone: ZoneInfo) -> ChartOrReason:
    """Incidents by week for each thousand draws; where they are rare, draws between one and the next."""
    weeks = _by_week(visits, now, zone)
    incidents = sum(count for count, _ in weeks.values())
    if len(weeks) >= POINTS_MIN and incidents / len(weeks) >= EXPECTED_MIN:
        return _weekly(weeks)
    gaps = _draws_between(visits)
    if len(gaps) >= POINTS_MIN:
        return _between(gaps)
    return ChartOrReason(
        chart=None,
        says=(
            f"Too little for a control chart: {_many(incidents, 'incident')} in {_many(len(weeks), 'full week')} "
            f"with draws. A weekly chart needs {POINTS_MIN} weeks with about {EXPECTED_MIN} incidents each; a chart "
            f"of the draws between incidents needs {POINTS_MIN + 1} incidents."
        ),
        source="QI-30: NIST e-Handbook and ISO 7870-2, from memory; number of points: common practice, no source.",
    )


def _by_week(visits: Sequence[EndedVisit], now: datetime, zone: ZoneInfo) -> dict[date, tuple[int, int]]:
    """(incidents, draws) of each full week that had draws, by its Monday."""
    incidents: dict[date, int] = defaultdict(int)
    draws: dict[date, int] = defaultdict(int)
    for visit in visits:
        monday = _monday(read_moment(visit.ended_at).astimezone(zone).date())
        incidents[monday] += len(visit.incidents)
        draws[monday] += 1 if visit.needles else 0
    this_week = _monday(now.astimezone(zone).date())
    return {
        monday: (incidents[monday], draws[monday]) for monday in sorted(draws) if draws[monday] and monday < this_week
    }


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _draws_between(visits: Sequence[EndedVisit]) -> list[int]:
    """How many draws without an incident lay between one incident and the next."""
    gaps, since, is_counting = [], 0, False
    for visit in visits:
        if visit.incidents:
            if is_counting:
                gaps.append(since)
            since, is_counting = 0, True
        elif visit.needles:
            since += 1
    return gaps


def _weekly(weeks: dict[date, tuple[int, int]]) -> ChartOrReason:
    counts = [count for count, _ in weeks.values()]
    sizes = [draws / 1000 for _, draws in weeks.values()]
    found = limits("u", counts, sizes)
    chart = draw(
        values=found.points,
        names=[f"{monday.day} {monday:%b}" for monday in weeks],
        centre=found.centre,
        lower=found.lower,
        upper=found.upper,
        out=found.out,
        show="{:.1f}",
    )
    return ChartOrReason(
        chart=chart,
        says=f"Incidents for each 1,000 draws, by week. {_outside(found.out, 'week')}",
        source="u chart, three standard deviations (QI-23: NIST e-Handbook 6.3.3.1).",
    )


def _between(gaps: list[int]) -> ChartOrReason:
    found = limits("g", gaps)
    chart = draw(
        values=found.points,
        names=[str(number) for number in range(1, len(gaps) + 1)],
        centre=found.centre,
        lower=found.lower,
        upper=found.upper,
        out=found.out,
        show="{:.0f}",
    )
    return ChartOrReason(
        chart=chart,
        says=f"Draws between one incident and the next, because incidents are rare. {_good_gaps(found.out)}",
        source="g chart, three standard deviations (QI-30: ISO 7870-2, from memory).",
    )


def _outside(out: Sequence[int], word: str) -> str:
    if not out:
        return f"Every {word} is inside the limits: no sign of anything but chance."
    return f"{_many(len(out), word)} outside the limits: look for a cause."


def _good_gaps(out: Sequence[int]) -> str:
    """A gap can only lie above its limits, and a long gap is good news."""
    if not out:
        return "Every gap is inside the limits: no sign of anything but chance."
    return f"{_many(len(out), 'gap')} longer than chance explains: find out what went well."


def _many(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
