"""What is asked of the tube plan: a patient's measures, the needle, the tests and the time. Every value is checked."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from bedside.clinical.order_of_draw import NEEDLES

SEXES = ("male", "female", "other", "unknown")

DATE_SHAPE = re.compile(r"\d{4}-\d{2}-\d{2}")
TIME_SHAPE = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}([.]\d{1,6})?)?(Z|[+-]\d{2}:\d{2})")

# Not limits of practice: values outside these are slips of the keyboard or of the unit (cm for m, 0.6 for 60 %).
WEIGHT_KG = (0.2, 650.0)
HEIGHT_M = (0.2, 2.8)
HEMATOCRIT_PERCENT = (5.0, 90.0)
DRAWN_ML = (0.0, 10_000.0)


class BadTubeRequest(ValueError):
    """A value that no plan can be made from: the field's name, what stands there, and why it cannot stay."""

    def __init__(self, field: str, value: object, why: str) -> None:
        self.field, self.value, self.why = field, value, why
        super().__init__(f"{field}: {value!r}: {why}")


class UnknownTest(BadTubeRequest):
    """The directory does not hold this code; without its entry nobody knows which tube it needs."""

    def __init__(self, code: str) -> None:
        super().__init__(
            "tests",
            code,
            "not in the test directory. Ask the laboratory which tube it needs, and add it there.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What the plan asks of a patient; None is not known. kg, m, per cent, mL."""

    birth_date: date | None = None
    sex: str | None = None
    weight_kg: float | None = None
    height_m: float | None = None
    hematocrit_percent: float | None = None
    drawn_24h_ml: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeRequest:
    """One visit's plan, asked for. `tests` are codes as the asker writes them, LOINC or the directory's own."""

    patient: Measures
    tests: tuple[str, ...]
    now: datetime
    needle: str = "straight"


def read_tube_request(raw: object) -> TubeRequest:
    """Read the request from parsed JSON; `BadTubeRequest` names the first field that cannot be used."""
    asked = _object("request", raw)
    now = _time("now", asked.get("now"))
    return TubeRequest(
        patient=_measures(_object("patient", asked.get("patient")), now.date()),
        tests=_codes("tests", asked.get("tests")),
        now=now,
        needle=_word("needle", asked.get("needle"), NEEDLES) or "straight",
    )


def _measures(raw: Mapping[str, Any], today: date) -> Measures:
    def number(name: str, span: tuple[float, float]) -> float | None:
        return _number(f"patient.{name}", raw.get(name), span)

    return Measures(
        birth_date=_birth_date("patient.birth_date", raw.get("birth_date"), today),
        sex=_word("patient.sex", raw.get("sex"), SEXES),
        weight_kg=number("weight_kg", WEIGHT_KG),
        height_m=number("height_m", HEIGHT_M),
        hematocrit_percent=number("hematocrit_percent", HEMATOCRIT_PERCENT),
        drawn_24h_ml=number("drawn_24h_ml", DRAWN_ML) or 0.0,
    )


def _object(name: str, raw: object) -> Mapping[str, Any]:
    if not isinstance(raw, dict):
        raise BadTubeRequest(name, raw, "an object with named fields is needed here")
    return raw


def _number(name: str, raw: object, span: tuple[float, float]) -> float | None:
    if raw is None:
        return None
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise BadTubeRequest(name, raw, "a number is needed here")
    low, high = span
    if not (math.isfinite(raw) and low <= raw <= high):
        raise BadTubeRequest(name, raw, f"only {low:g} to {high:g} can be right; check the unit")
    return float(raw)


def _word(name: str, raw: object, words: tuple[str, ...]) -> str | None:
    if raw is None:
        return None
    if not isinstance(raw, str) or raw not in words:
        raise BadTubeRequest(name, raw, f"one of {', '.join(words)}")
    return raw


def _codes(name: str, raw: object) -> tuple[str, ...]:
    if not isinstance(raw, list):
        raise BadTubeRequest(name, raw, "a list of test codes is needed here")
    for place, code in enumerate(raw):
        if not isinstance(code, str) or not code:
            raise BadTubeRequest(f"{name}[{place}]", code, "a test code is needed here, as text")
    return tuple(raw)


def _birth_date(name: str, raw: object, today: date) -> date | None:
    if raw is None:
        return None
    day = _day(raw)
    if day is None:
        raise BadTubeRequest(name, raw, "a day of the calendar, YYYY-MM-DD")
    # A day's grace: where the sun is ahead of `now`, a newborn is born tomorrow.
    if day > today + timedelta(days=1):
        raise BadTubeRequest(name, raw, f"still to come on {today}")
    if day.year < today.year - 130:
        raise BadTubeRequest(name, raw, "nobody is that old; check the year")
    return day


def _day(raw: object) -> date | None:
    if not isinstance(raw, str) or not raw.isascii() or not DATE_SHAPE.fullmatch(raw):
        return None
    try:
        return date.fromisoformat(raw)
    except ValueError:
        return None


def _time(name: str, raw: object) -> datetime:
    why = "a time with its offset is needed, such as 2026-11-25T05:12:40.120Z"
    if not isinstance(raw, str) or not raw.isascii() or not TIME_SHAPE.fullmatch(raw):
        raise BadTubeRequest(name, raw, why)
    try:
        return datetime.fromisoformat(raw)
    except ValueError as error:
        raise BadTubeRequest(name, raw, why) from error
