"""Every shared case, put to the tablet's judge in a real browser, and held against the server's verdict."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from tests.browser.judge_server import JudgeServer, TabletJudge, open_page
from tests.cases.compare import differences
from tests.cases.files import answered

CASES = answered("judge")


@pytest.fixture(scope="module")
def verdicts(browser: Browser) -> Iterator[dict[str, dict]]:
    """The tablet's verdict on every case, all in one page load."""
    server = JudgeServer()
    page = open_page(browser, server)
    told = TabletJudge(page).judge(case.case_json for case in CASES.values())
    yield dict(zip(CASES, told, strict=True))
    page.close()
    server.stop()


@pytest.mark.parametrize("name", CASES)
def test_visit(verdicts, name):
    verdict = verdicts[name]
    case = CASES[name]

    assert "error" not in verdict, verdict
    assert differences(case.expect, verdict) == []
    assert verdict == judge(read_case(case.case_json), default_book()).as_json()


def test_a_verdict_has_its_fields_in_the_order_of_the_contract(verdicts):
    some = next(iter(verdicts.values()))

    assert list(some) == ["stage", "findings", "tourniquet_longest_s", "pressure_s", "volume_ml", "may_end"]
