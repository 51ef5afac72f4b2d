"""What is asked of the tube plan: a patient's measures, needle, tests and time. Every value is checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from bedside.clinical import shapes
from bedside.clinical.bad_input import BadInput
from bedside.clinical.order_of_draw import NEEDLES
from bedside.clinical.volume import Age, Body, Given

SEXES = ("male", "female", "other", "unknown")

# Not limits of practice: what lies outside is a slip of the keyboard or the unit (cm for m, 0.6 for 60 %).
WEIGHT_KG = (0.2, 650.0)
HEIGHT_M = (0.2, 2.8)
HEMATOCRIT_PERCENT = (5.0, 90.0)
DRAWN_ML = (0.0, 10_000.0)
OLDEST_YEARS = 130


class UnknownTest(BadInput):
    """The directory does not hold this code; without its entry nobody knows which tube it needs."""

    def __init__(self, code: str) -> None:
        super().__init__("tests", code, "is not in the test directory. Ask the laboratory, and add its line there.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What the plan asks of a patient; None is not known. kg, m, per cent, mL.

    drawn_24h_ml, drawn_8_weeks_ml: what was drawn before this visit, the latter at least the former.
    allowed_ml: what a named person allowed this visit to draw above the limit, None: nobody did.
    """

    birth_date: date | None = None
    sex: str | None = None
    weight_kg: float | None = None
    height_m: float | None = None
    hematocrit_percent: float | None = None
    drawn_24h_ml: float = 0.0
    drawn_8_weeks_ml: float = 0.0
    allowed_ml: float | None = None

    def body_on(self, day: date) -> Body:
        """What blood volume is reckoned from on this day."""
        age = None if self.birth_date is None else Age.on(day, self.birth_date)
        return Body(age=age, sex=self.sex, height_m=self.height_m, weight_kg=self.weight_kg)

    @property
    def given(self) -> Given:
        return Given(day_ml=self.drawn_24h_ml, eight_weeks_ml=self.drawn_8_weeks_ml)


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeRequest:
    """One visit's plan, asked for. `tests` are codes as the asker writes them, LOINC or local."""

    patient: Measures
    tests: tuple[str, ...]
    now: datetime
    needle: str = "straight"


def read_tube_request(raw: object) -> TubeRequest:
    """Read the request from parsed JSON; `BadInput` names the first field that cannot be used."""
    asked = shapes.record("request", raw)
    now = _moment("now", _needed(asked, "now"))
    return TubeRequest(
        patient=_measures(shapes.record("patient", _needed(asked, "patient")), now.date()),
        tests=tuple(shapes.listed(_code)("tests", _needed(asked, "tests"))),
        now=now,
        needle=_given("needle", asked.get("needle"), shapes.word(*NEEDLES)) or "straight",
    )


def _measures(raw: Mapping[str, Any], today: date) -> Measures:
    def given(name: str, shape: shapes.Shape) -> Any:
        return _given(f"patient.{name}", raw.get(name), shape)

    return Measures(
        birth_date=given("birth_date", _born_by(today)),
        sex=given("sex", shapes.word(*SEXES)),
        weight_kg=given("weight_kg", _within(*WEIGHT_KG)),
        height_m=given("height_m", _within(*HEIGHT_M)),
        hematocrit_percent=given("hematocrit_percent", _within(*HEMATOCRIT_PERCENT)),
        drawn_24h_ml=given("drawn_24h_ml", _within(*DRAWN_ML)) or 0.0,
        drawn_8_weeks_ml=given("drawn_8_weeks_ml", _within(*DRAWN_ML)) or 0.0,
    )


def _needed(asked: Mapping[str, Any], name: str) -> object:
    if asked.get(name) is None:
        raise BadInput(name, None, "is missing")
    return asked[name]


def _given(name: str, value: object, shape: shapes.Shape) -> Any:
    return None if value is None else shape(name, value)


def _within(low: float, high: float) -> shapes.Shape:
    """A number in a span that any body, and any slip of the unit, is told apart by."""

    def number(field: str, value: object) -> float:
        found = shapes.number(field, value)
        if not low <= found <= high:
            raise BadInput(field, value, f"cannot be right; {low:g} to {high:g} can. Check the unit.")
        return float(found)

    return number


def _code(field: str, value: object) -> str:
    if not shapes.text(field, value):
        raise BadInput(field, value, "is no test code")
    return str(value)


def _born_by(today: date) -> shapes.Shape:
    """A birth date of someone alive today, with a day's grace: where the sun is ahead, a newborn is born tomorrow."""

    def birth_date(field: str, value: object) -> date:
        born = date.fromisoformat(shapes.day(field, value))
        if born > today + timedelta(days=1):
            raise BadInput(field, value, f"is still to come on {today}")
        if born.year < today.year - OLDEST_YEARS:
            raise BadInput(field, value, "is too long ago for anyone alive; check the year")
        return born

    return birth_date


def _moment(field: str, value: object) -> datetime:
    """A time that keeps its offset: the day it names there is the day that ages are reckoned on."""
    shapes.instant(field, value)
    moment = datetime.fromisoformat(str(value).upper().replace(",", "."))
    # Room for other offsets and for minutes added, which the calendar's first and last days do not have.
    if not 1900 <= moment.year <= 2999:
        raise BadInput(field, value, "is not a year that blood is drawn in")
    return moment
