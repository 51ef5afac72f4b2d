"""What repeats itself at a patient's visits, in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.records.repeats import Repeats
from bedside.web.counting import listed, many, sentence
from bedside.web.story import incident_words, outcome_words
from bedside.web.times import local, shown


def repeat_sentences(repeats: Repeats, now: datetime, zone: ZoneInfo) -> Iterable[str]:
    """`Prolonged bleeding at two visits: 24 Nov 05:12 and 05:40.`"""
    for kind, times in repeats.incidents.items():
        yield _at_visits(incident_words(kind), times, now, zone)
    for outcome, times in repeats.outcomes.items():
        yield _at_visits(outcome_words(outcome), times, now, zone)
    if repeats.failed_needles:
        needles = many(repeats.failed_needles, "needle", "needles")
        yield sentence(f"{needles} without blood, at {many(repeats.failed_visits, 'visit', 'visits')}")


def _at_visits(what: str, times: tuple[str, ...], now: datetime, zone: ZoneInfo) -> str:
    said = [shown(local(at, zone), now) for at in times]
    return sentence(f"{what} at {many(len(times), 'visit', 'visits')}: {listed(said)}")
