"""What the screens take for done is what the judge counts: one fold, one order, one definition of a complete note."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from bedside.clinical.rulebook import default_book
from tests.browser.judge_server import JudgeServer, open_page
from tests.cases.files import answered

TELL = """async ([book, cases]) => {
  const { progress } = await import("/as-it-is/js/tablet/progress.js");
  const { judge } = await import("/as-it-is/js/tablet/judge.js");
  const id = event => event?.id ?? null;
  return cases.map(given => {
    const visit = { patient: given.patient, needle: given.needle, tubes: given.tubes ?? [] };
    const done = progress(given.events, visit, null, book);
    const atTheEnd = { kind: "visit_ended", by: null, data: { outcome: "collected" } };
    const found = judge(book, { ...given, next: atTheEnd }).findings;
    const about = (...codes) => found.filter(({ code }) => codes.includes(code)).map(({ event }) => event).sort();
    return {
      screens: {
        notes: done.unwritten.map(each => id(each.note) ?? id(each.event)).sort(),
        unread: done.kept.filter(tube => !tube.read).map(tube => id(tube.filled)).sort(),
        volume: done.tubes.reduce((sum, tube) => sum + (tube.volume ?? 0), 0),
        ended: id(done.ended),
        on: Object.keys(done.tourniquet).length,
        needles: done.needles.map(({ in: came }) => id(came)),
      },
      judges: {
        notes: about("incident-note-missing", "incident-note-incomplete"),
        unread: about("label-missing"),
        volume: judge(book, given).volume_ml,
      },
      tubes: done.tubes.map(tube => [tube.id, tube.readRight, tube.mixed, tube.volume]),
    };
  });
}"""

PATIENT = {"name": "Ojala, Kaarina", "birth_date": "1951-03-09", "record_number": "40031977"}
TUBE = {"id": "t-1", "kind": "edta", "specimen": "1000000021", "nominal_ml": 3.0}


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    server = JudgeServer()
    opened = open_page(browser, server)
    yield opened
    opened.close()
    server.stop()


def tell(page: Page, *cases: dict[str, Any]) -> list[dict[str, Any]]:
    return page.evaluate(TELL, [default_book().as_json(), list(cases)])


def visit(*events: dict[str, Any]) -> dict[str, Any]:
    return {"patient": PATIENT, "tubes": [TUBE], "events": list(events), "now": "2026-11-25T05:30:00.000Z"}


def event(seq: int, kind: str, data: dict[str, Any] | None = None, **body: Any) -> dict[str, Any]:
    at = f"2026-11-25T05:{seq:02}:00.000Z"
    told = {"id": f"e-{seq}", "tablet": "a", "seq": seq, "kind": kind, "at": at, "by": "p-ines", "data": data or {}}
    return told | body


def test_in_every_shared_case_the_screens_and_the_judge_count_the_same(page: Page):
    cases = [case.case_json for case in answered("judge").values()]
    ready = [
        {name: value for name, value in case.items() if name != "next"}
        for case in cases
        if all(one.get("id") for one in case.get("events", [])) and case.get("events")
    ]
    open_visits = [case for case in ready if all(one["kind"] != "visit_ended" for one in case["events"])]
    assert len(open_visits) > 200

    differing = [
        (case, told["screens"], told["judges"])
        for case, told in zip(open_visits, tell(page, *open_visits), strict=True)
        if any(told["screens"][field] != told["judges"][field] for field in ("notes", "unread"))
        or abs(told["screens"]["volume"] - told["judges"]["volume"]) > 1e-9
    ]
    assert differing == []


def test_what_another_tablet_recorded_counts_at_its_time_on_the_shared_clock(page: Page):
    # Tablet b's clock is an hour behind: by its own number and clock it would come first.
    on = event(5, "tourniquet_on", {"side": "left"})
    off = event(1, "tourniquet_off", {"side": "left"}, id="e-b", tablet="b", at="2026-11-25T04:05:40.000Z")
    [told] = tell(page, visit(on, off | {"server_skew_ms": 3_600_000}))
    [without] = tell(page, visit(on, off))

    assert told["screens"]["on"] == 0
    assert without["screens"]["on"] == 1


def test_the_correction_that_is_later_on_the_shared_clock_is_the_one_that_counts(page: Page):
    fill = event(2, "tube_filled", {"tube": "t-1", "volume_ml": 1.0})
    first = event(3, "corrected", {"event": "e-2", "data": {"tube": "t-1", "volume_ml": 2.0}})
    last = event(9, "corrected", {"event": "e-2", "data": {"tube": "t-1", "volume_ml": 3.0}}, tablet="b")
    [told] = tell(page, visit(fill, first, last | {"seq": 1}))

    assert told["screens"]["volume"] == 3.0


@pytest.mark.parametrize(("text", "right"), [("1000000021", True), (" 1000000021\n", True), ("1000000038", False)])
def test_a_label_is_right_where_the_judge_says_so(page: Page, text: str, right: bool):
    fill, read = event(2, "tube_filled", {"tube": "t-1"}), event(3, "label_read", {"tube": "t-1", "text": text})
    [told] = tell(page, visit(fill, read))

    assert told["tubes"][0][1] is right


WHOLE = {
    "opened": "e-1",
    "kind": "faint",
    "at": "2026-11-25T05:01:00.000Z",
    "steps": ["Laid flat."],
    "told": {"name": "Rosa Martins", "role": "nurse"},
    "note": "Pale, then gone.",
}


@pytest.mark.parametrize(
    ("changes", "open_notes"),
    [
        ({}, []),
        ({"note": " "}, ["e-2"]),
        ({"steps": []}, ["e-2"]),
        ({"told": {"name": ""}}, ["e-2"]),
        ({"at": None}, ["e-2"]),
        ({"opened": None}, ["e-1"]),
    ],
)
@pytest.mark.parametrize("kind", ["faint", "needlestick"])
def test_a_note_is_open_until_it_says_when_what_was_done_who_was_told_and_what(
    page: Page, kind: str, changes: dict[str, Any], open_notes: list[str]
):
    opened = event(1, "incident_opened", {"kind": kind})
    [told] = tell(page, visit(opened, event(2, "incident_noted", WHOLE | {"kind": kind} | changes)))

    assert told["screens"]["notes"] == open_notes


def test_pressed_again_a_dry_look_before_that_does_not_count(page: Page):
    look = """async ([book, given]) => {
      const { progress } = await import("/as-it-is/js/tablet/progress.js");
      const { needle } = progress(given.events, { patient: given.patient, tubes: given.tubes }, null, book);
      return [needle.look?.id ?? null, needle.taped?.id ?? null];
    }"""
    events = (
        event(1, "needle_in"),
        event(2, "needle_out", {"guard_on": True}),
        event(3, "pressure_on"),
        event(5, "site_looked", {"bleeding": False, "watched_s": 6}),
        event(6, "taped"),
    )
    held = page.evaluate(look, [default_book().as_json(), visit(*events)])
    again = page.evaluate(look, [default_book().as_json(), visit(*events, event(7, "pressure_on"))])

    assert held == ["e-5", "e-6"]
    assert again == [None, None]
