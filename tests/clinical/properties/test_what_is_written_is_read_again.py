"""What is written out and read again is what it was."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

from hypothesis import given, settings
from hypothesis import strategies as st

from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from bedside.clinical.shapes import instant
from tests.random_visits import visits

ZONES = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
MOMENTS = st.datetimes(datetime(1900, 1, 1), datetime(2999, 12, 31), timezones=st.just(UTC))


@settings(max_examples=150)
@given(visits())
def test_a_case_written_as_json_is_the_same_case(visit):
    assert read_case(json.loads(json.dumps(visit))) == read_case(visit)


@settings(max_examples=150)
@given(visits())
def test_a_verdict_written_as_json_is_the_same_verdict(visit):
    verdict = judge(read_case(visit), default_book()).as_json()

    assert json.loads(json.dumps(verdict)) == verdict


def test_the_rulebook_read_and_written_again_is_the_same_text():
    text = default_book().text

    assert json.dumps(json.loads(text), ensure_ascii=False, indent=1) == text


@given(MOMENTS, ZONES)
def test_a_moment_is_the_same_in_every_zone(moment, zone):
    moment = moment.replace(microsecond=moment.microsecond // 1000 * 1000)
    elsewhere = moment.astimezone(zone).isoformat(timespec="milliseconds")

    at_ms = instant("at", elsewhere)

    assert at_ms == instant("at", moment.isoformat(timespec="milliseconds").replace("+00:00", "Z"))
    assert datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at_ms) == moment
