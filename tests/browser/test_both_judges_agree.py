"""Whole visits made by chance, put to the server's judge and to the tablet's: the same answer, field by field."""

from __future__ import annotations

import json
from collections.abc import Iterator
from random import Random

import pytest
from playwright.sync_api import Browser

from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from tests.browser.judge_server import JudgeServer, TabletJudge, open_page
from tests.random_visits import Json, a_visit

AT_ONCE = 250
ORDINARY_RUN = 20_000
LONG_RUN = 500_000


@pytest.fixture(scope="module")
def tablet_judge(browser: Browser) -> Iterator[TabletJudge]:
    server = JudgeServer()
    page = open_page(browser, server)
    yield TabletJudge(page)
    page.close()
    server.stop()


def servers_verdict(case: Json) -> Json:
    return judge(read_case(case), default_book()).as_json()


def first_disagreement(tablet_judge: TabletJudge, seeds: range) -> str:
    """A visit on which the two differ, made as small as it gets, and both verdicts; empty when they agree on all."""
    for start in range(seeds.start, seeds.stop, AT_ONCE):
        cases = [a_visit(Random(seed)) for seed in range(start, min(start + AT_ONCE, seeds.stop))]
        differing = tablet_judge.differing(cases, [servers_verdict(case) for case in cases])
        if differing:
            return told(tablet_judge, smaller(tablet_judge, cases[differing[0]["place"]]))
    return ""


def smaller(tablet_judge: TabletJudge, case: Json) -> Json:
    """The same disagreement without the events it does not need."""
    for place in reversed(range(len(case["events"]))):
        tried = {**case, "events": case["events"][:place] + case["events"][place + 1 :]}
        try:
            verdict = servers_verdict(tried)
        except ValueError:
            continue  # Without that event another one speaks of a tube nobody knows.
        if tablet_judge.differing([tried], [verdict]):
            case = tried
    return case


def told(tablet_judge: TabletJudge, case: Json) -> str:
    [tablets] = tablet_judge.judge([case])
    return json.dumps({"case": case, "server": servers_verdict(case), "tablet": tablets}, ensure_ascii=False, indent=1)


def test_on_twenty_thousand_visits(tablet_judge):
    assert first_disagreement(tablet_judge, range(ORDINARY_RUN)) == ""


@pytest.mark.long
def test_on_half_a_million_visits(tablet_judge):
    assert first_disagreement(tablet_judge, range(ORDINARY_RUN, ORDINARY_RUN + LONG_RUN)) == ""


def test_a_disagreement_would_be_seen(tablet_judge):
    case = a_visit(Random(1))
    right = servers_verdict(case)
    wrong = json.loads(json.dumps({**right, "volume_ml": right["volume_ml"] + 0.001}))

    assert tablet_judge.differing([case], [right]) == []
    assert [one["place"] for one in tablet_judge.differing([case], [wrong])] == [0]
