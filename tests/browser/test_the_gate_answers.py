"""What a screen asks of the gate is always judged, also for acts that nothing holds up."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from bedside.clinical.rulebook import default_book
from tests.browser.judge_server import JudgeServer, open_page

ASK = """async ([book, situation, act]) => {
  const { lookAhead } = await import("/as-it-is/js/tablet/gate.js");
  const { judge } = await import("/as-it-is/js/tablet/judge.js");
  const told = lookAhead(judge, book, situation, [act], () => true);
  return [...told.stops, ...told.asks].map(({ code }) => code);
}"""

PATIENT = {"name": "Ojala, Kaarina", "birth_date": "1951-03-09", "record_number": "40031977"}
NOW = "2026-11-25T05:10:00.000Z"


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    server = JudgeServer()
    opened = open_page(browser, server)
    yield opened
    opened.close()
    server.stop()


def ask(page: Page, act: dict[str, Any], *events: dict[str, Any], **changes: Any) -> list[str]:
    tubes = [{"id": "t-1", "kind": "edta", "specimen": "1000000021", "nominal_ml": 3.0}]
    situation = {"patient": PATIENT, "tubes": tubes, "events": list(events), "now": NOW, **changes}
    return page.evaluate(ASK, [default_book().as_json(), situation, {"by": "p-ines", "at": NOW, **act}])


def event(seq: int, kind: str, by: str = "p-ines", **data: Any) -> dict[str, Any]:
    at = f"2026-11-25T05:0{seq}:00.000Z"
    return {"id": f"e-{seq}", "tablet": "t", "seq": seq, "kind": kind, "at": at, "by": by, "data": data}


PROVEN = (
    event(1, "identity_taken", source="spoken", birth_date="1951-03-09", how="typed"),
    event(2, "identity_taken", source="band", record_number="40031977", how="scanned"),
)
READ = {"kind": "label_read", "data": {"tube": "t-1", "text": "1000000021"}}


def test_a_label_asked_for_by_somebody_who_took_no_identity_is_stopped(page: Page):
    # ID-01: Joint Commission NPSG.01.01.01 EP 1
    assert "identity-missing" in ask(page, READ)
    assert "identity-missing" in ask(page, {**READ, "by": "p-tomasz"}, *PROVEN)


def test_a_label_asked_for_while_a_difference_stands_is_stopped(page: Page):
    other = event(3, "identity_taken", source="band", record_number="40031978", how="scanned")

    # ID-11: CLSI GP33, secondary source
    assert "identity-mismatch" in ask(page, READ, *PROVEN, other)


def test_a_label_after_identity_is_settled_is_not(page: Page):
    assert [code for code in ask(page, READ, *PROVEN) if code.startswith("identity-")] == []


@pytest.mark.parametrize(("limit_ml", "stopped"), [(2.99, True), (3.0, False), (3.01, False)])
def test_the_next_tube_is_weighed_against_the_limit_of_this_visit(page: Page, limit_ml: float, stopped: bool):
    # contract: exactly at the limit is allowed
    found = ask(page, {"kind": "tube_filled", "data": {"tube": "t-1"}}, *PROVEN, limits={"max_draw_ml": limit_ml})

    assert ("volume-over-limit" in found) is stopped
