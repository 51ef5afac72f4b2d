"""Whatever happened, as long as it is well formed, there is a verdict, and it says why."""

from __future__ import annotations

from itertools import pairwise
from random import Random

from hypothesis import given, settings

from bedside.clinical.case import read_case
from bedside.clinical.findings import STOP
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from tests.random_visits import a_visit, visits


def judged(visit):
    return judge(read_case(visit), default_book())


@settings(max_examples=150)
@given(visits())
def test_every_finding_has_words_and_a_source(visit):
    for finding in judged(visit).findings:
        assert finding.source.strip()
        assert finding.says.strip()
        assert finding.do_next.strip()
        assert "{" not in finding.says + finding.do_next


@settings(max_examples=150)
@given(visits())
def test_one_finding_for_each_code_and_event_and_the_most_serious_first(visit):
    findings = judged(visit).findings
    about = [(finding.code, finding.event) for finding in findings]

    assert len(set(about)) == len(about)
    assert all(first.severity.rank <= second.severity.rank for first, second in pairwise(findings))


@settings(max_examples=150)
@given(visits())
def test_no_time_and_no_volume_is_negative(visit):
    verdict = judged(visit)

    assert all(figure is None or figure >= 0 for figure in (verdict.tourniquet_longest_s, verdict.pressure_s))
    assert verdict.volume_ml >= 0


def test_a_visit_that_may_end_as_collected_is_not_stopped_when_it_does():
    ended = 0
    for seed in range(1500):
        visit = a_visit(Random(seed))
        visit.pop("next", None)
        if judged(visit).may_end:
            ended += 1
            visit["next"] = {"kind": "visit_ended", "data": {"outcome": "collected"}}
            assert all(finding.severity is not STOP for finding in judged(visit).findings), seed

    assert ended > 20
