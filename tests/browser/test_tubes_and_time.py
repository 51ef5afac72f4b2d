"""Clocks of carried tubes, windows of orders and what may be drawn: the tablet's pure parts against the house's."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from bedside.clinical.events import read_event
from bedside.clinical.good_until import GoodUntil, good_until
from bedside.clinical.rulebook import default_book
from bedside.clinical.timing import Window, as_utc
from bedside.clinical.windows import OrderWindow, stands
from tests.browser.judge_server import JudgeServer, open_page

Json = dict[str, Any]
BOOK = default_book()
DRAWN = "2026-11-25T05:00:00.000Z"
# 1:00 UTC: clocks in Lisbon go back on the first night, and forward on the second.
NIGHTS = (datetime(2026, 10, 25, 1, tzinfo=UTC), datetime(2027, 3, 28, 1, tzinfo=UTC))

ASK = """async ([file, name, calls]) => {
  const module = await import(`/as-it-is/js/tablet/${file}.js`);
  return calls.map(args => module[name](...args));
}"""


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    server = JudgeServer()
    opened = open_page(browser, server)
    yield opened
    opened.close()
    server.stop()


def ask(page: Page, file: str, name: str, *calls: list[Any]) -> list[Any]:
    """What an exported function of a module of the tablet answers, once for each list of arguments."""
    answers: list[Any] = page.evaluate(ASK, [file, name, list(calls)])
    return answers


def at(seconds: float) -> Json:
    """A moment so long after the draw, told by another page load: the wall clock alone counts."""
    moment = datetime(2026, 11, 25, 5, tzinfo=UTC) + timedelta(seconds=seconds)
    return {"at": as_utc(moment), "page": "later", "mono_ms": 0}


# ---- windows


def windows() -> Iterator[OrderWindow]:
    for night in NIGHTS:
        for is_level in (True, False):
            for aim in (0, 20, 90):
                ends = (night + timedelta(minutes=minutes) for minutes in (-40, -40 + aim, 50))
                yield OrderWindow(window=Window(*ends), follows="trough", is_level=is_level)


def moments(order: OrderWindow) -> Iterator[datetime]:
    """Each edge, a millisecond before it, and one after it; and the end of the grace of what merely waits."""
    window, grace = order.window, timedelta(minutes=BOOK.value("missed_after_min"))
    for edge in (window.earliest, window.aim, window.latest, window.latest + grace):
        yield from (edge + timedelta(milliseconds=step) for step in (-1, 0, 1))


def told(order: OrderWindow, **more: Any) -> Json:
    window = order.window
    ends = {"from": as_utc(window.earliest), "aim": as_utc(window.aim), "to": as_utc(window.latest)}
    return {**ends, "follows": order.follows, "why": order.why, "is_level": order.is_level, "lacks": "", **more}


def ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


def test_every_window_stands_on_the_tablet_as_in_the_house_at_each_edge_and_through_both_nights(page: Page):
    asked = [(order, moment) for order in windows() for moment in moments(order)]
    book = BOOK.as_json()

    answers = ask(page, "windows", "stands", *([told(order), ms(moment), book] for order, moment in asked))

    assert answers == [stands(order, moment, BOOK.limits) for order, moment in asked]
    assert {"too-early", "open", "due", "late", "missed"} == set(answers)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (-100, ["too early, opens 01:20", "in 60 min"]),
        (-30, ["open until 01:50"]),
        (0, ["due until 01:50", "50 min"]),
        (50, ["due until 01:50", "under 1 min"]),
        (51, ["MISSED 01:50", "1 min ago"]),
    ],
)
def test_the_countdown_has_as_many_minutes_as_the_night_and_the_ward_s_own_clock(
    page: Page, minutes: float, words: list[str]
):
    # From 0:20 to 1:50 UTC: the clock shows 1:20, then 1:00 once more, and 1:50.
    night = NIGHTS[0]
    ends = (night + timedelta(minutes=place) for place in (-40, -10, 50))
    order = OrderWindow(window=Window(*ends), follows="trough", is_level=True)
    now = night + timedelta(minutes=minutes)
    one = {"order": {"name": "Vancomycin, trough"}, "window": told(order), "state": stands(order, now, BOOK.limits)}

    (lines,) = ask(page, "windows", "countdown", [one, ms(now), "Europe/Lisbon"])

    assert [line["says"] for line in lines] == words


def test_the_kind_of_level_is_said_with_the_dose_it_goes_by(page: Page):
    dose = {"dose_at": "2026-11-25T06:00:00.000Z"}
    trough = {"follows": "trough", "why": "trough: in the time before the next dose"}
    later = {"follows": "after-6h", "why": "not within the first hours after the dose"}
    peak = {"follows": "peak", "why": "peak: after the end of the infusion", "infusion_end_at": dose["dose_at"]}

    windows = (trough | dose, later | dose, peak, trough)
    said = ask(page, "windows", "levelWords", *([one, "UTC"] for one in windows))

    assert said == [
        "trough before the dose at 06:00",
        "not within the first hours after the dose; the dose at 06:00",
        "peak after the infusion that ends at 06:00",
        "trough: in the time before the next dose",
    ]


# ---- clocks of what is carried


def tube(within_min: float, what: str = "in-lab", **more: Any) -> Json:
    clock = {"what": what, "from_min": None, "within_min": within_min, "says": "", "source": ""}
    return {"filled": {"at": DRAWN, "page": "first", "mono_ms": 0}, "good": {"keep": ["ice"], "clocks": [clock]}} | more


@pytest.mark.parametrize(
    ("within", "seconds", "tone", "words"),
    [
        (15, 299, "calm", "10 min"),
        (15, 300, "act", "10 min"),
        (15, 900, "act", "less than a minute"),
        (15, 901, "stop", "1 min late"),
        (120, 5399, "calm", "30 min"),
        (120, 5400, "act", "30 min"),
        (120, 7381, "stop", "4 min late"),
        (120, 93600, "stop", "24 h 00 late"),
    ],
)
def test_a_clock_is_calm_then_told_then_red(page: Page, within: float, seconds: float, tone: str, words: str):
    (deadline,) = ask(page, "good_until", "deadlineOf", [tube(within), at(seconds)])

    assert deadline["tone"] == tone
    assert ask(page, "good_until", "leftWords", [deadline["leftS"]]) == [words]


def test_a_tablet_whose_clock_was_set_back_goes_by_the_longer_time(page: Page):
    now = {**at(-3600), "page": "first", "mono_ms": 840_000}

    (deadline,) = ask(page, "good_until", "deadlineOf", [tube(15), now])

    assert deadline["leftS"] == 60


def test_the_soonest_comes_first_and_clotting_is_no_deadline(page: Page):
    carried = [{"tube": tube(60, "clot")}, {"tube": tube(120, "spin")}, {"tube": tube(60)}, {"tube": tube(60)}]

    (first,) = ask(page, "good_until", "firstDeadline", [carried, at(0)])
    (inside,) = ask(page, "good_until", "soonestFirst", [carried, at(0)])

    assert (first["what"], first["by"], len(first["tubes"])) == ("in-lab", "2026-11-25T06:00:00.000Z", 2)
    assert [one["deadline"] and one["deadline"]["what"] for one in inside] == ["in-lab", "in-lab", "spin", None]


PROGRESS = """async ([book, visit, events]) => {
  const { progress } = await import("/as-it-is/js/tablet/progress.js");
  const { carriedIn } = await import("/as-it-is/js/tablet/good_until.js");
  const done = progress(events, visit, "p-ines", book);
  const minutes = tube => tube.good.clocks.map(({ within_min }) => within_min);
  return carriedIn([{ visit, done }]).map(({ tube }) => [tube.id, minutes(tube)]);
}"""


def test_what_is_discarded_or_handed_over_is_carried_no_more_and_a_spare_keeps_the_clock_it_stands_for(page: Page):
    ammonia = good_until("edta", [], ["ice"], BOOK.limits).as_json() | {
        "clocks": [{"what": "in-lab", "within_min": 15}]
    }
    visit = {
        "id": "v-1",
        "patient": {"name": "Ojala, Kaarina", "birth_date": "1951-03-09", "record_number": "40031977"},
        "tubes": [
            {"id": "t-1", "kind": "edta", "specimen": "1", "nominal_ml": 2.0, "good": ammonia},
            {"id": "t-2", "kind": "heparin", "specimen": "2", "nominal_ml": 2.0, "good": {"keep": [], "clocks": []}},
        ],
    }
    happened = [
        ("tube_filled", {"tube": "t-1"}),
        ("tube_filled", {"tube": "t-2"}),
        ("tube_discarded", {"tube": "t-1", "reason": "a spare was taken"}),
        ("tube_added", {"tube": "t-3", "kind": "edta", "specimen": "3", "nominal_ml": 2.0}),
        ("tube_filled", {"tube": "t-3"}),
        ("tube_handed_over", {"tube": "t-2", "kept": ["room"]}),
    ]
    events = [
        {"id": f"e-{n}", "tablet": "a", "seq": n, "kind": kind, "at": DRAWN, "by": "p-ines", "data": data}
        for n, (kind, data) in enumerate(happened, start=1)
    ]

    assert page.evaluate(PROGRESS, [BOOK.as_json(), visit, events]) == [["t-3", [15]]]


@pytest.mark.parametrize("handling", [["ice"], ["37C"], ["protect-from-light"], ["ice", "protect-from-light"], []])
def test_how_it_was_kept_is_written_in_the_house_s_words(page: Page, handling: list[str]):
    good = good_until("edta", [], handling, BOOK.limits)
    one = {"good": good.as_json()}

    kept, not_kept = (as_read(words) for words in ask(page, "good_until", "keptAs", [one, True], [one, False]))

    assert good.not_kept(kept) == ()
    assert good.not_kept(not_kept) == tuple(word for word in good.keep if word != "room")
    assert set(not_kept) != set(asked_for(good))


def as_read(words: list[str]) -> tuple[str, ...]:
    data = {"tube": "t-1", "kept": words, "to": {"name": "Rui Tavares", "at": DRAWN}}
    body = {"id": "e-1", "tablet": "a", "seq": 1, "kind": "tube_handed_over", "at": DRAWN, "data": data}
    read: tuple[str, ...] = read_event(body).data["kept"]
    return read


def asked_for(good: GoodUntil) -> tuple[str, ...]:
    return good.keep


# ---- blood


PACKET = {"made_at": "2026-11-25T05:00:00.000Z"}


def stop(visit: str, patient: str, *tubes: tuple[float, str | None]) -> Json:
    """A visit with its filled tubes: each its volume, and when the house answered."""
    filled = [{"volume": ml, "filled": {"answer": answer and {"at": answer}}} for ml, answer in tubes]
    return {"visit": {"id": visit, "patient": {"id": patient}}, "done": {"tubes": filled}}


def test_what_this_tablet_drew_counts_until_the_packet_counts_it(page: Page):
    stops = [
        stop("v-here", "n-1", (9.0, None)),
        stop("v-else", "n-2", (9.0, None)),
        stop("v-1", "n-1", (2.0, None), (0.5, "2026-11-25T05:00:00.001Z"), (4.0, "2026-11-25T05:00:00.000Z")),
    ]
    here = stops[0]["visit"]

    # A tablet two minutes behind: its answer came later than its clock says.
    assert ask(page, "blood", "drawnHereMl", [stops, here, PACKET, 0], [stops, here, PACKET, 120_000]) == [2.5, 6.5]


def child(**volume: float) -> Json:
    limits = {"draw_limit_ml": 10.0, "day_limit_ml": 43.0, "eight_weeks_limit_ml": 86.0}
    return {"limits": {"max_draw_ml": 10.0}, "volume": {**limits, "drawn_24h_ml": 0, "drawn_8_weeks_ml": 0, **volume}}


@pytest.mark.parametrize(
    ("volume", "here", "binds", "left"),
    [
        ({}, 0, "one draw", 10.0),
        ({"drawn_24h_ml": 33.0}, 0.01, "24 hours", 9.99),
        ({"drawn_24h_ml": 33.0}, 0, "one draw", 10.0),
        ({"drawn_8_weeks_ml": 80.0}, 2.0, "8 weeks", 4.0),
        ({"drawn_24h_ml": 43.0}, 5.0, "24 hours", 0.0),
    ],
)
def test_the_limit_that_binds_is_named(page: Page, volume: Json, here: float, binds: str, left: float):
    (allowed,) = ask(page, "blood", "allowedNow", [child(**volume), here])

    assert (allowed["binds"], allowed["ml"]) == (binds, pytest.approx(left, abs=1e-9))


def test_nothing_limits_a_grown_up_without_a_limit(page: Page):
    assert ask(page, "blood", "allowedNow", [{"limits": {"max_draw_ml": None}, "volume": {}}, 3.0]) == [None]


@pytest.mark.parametrize(("left", "waits"), [(4.01, []), (4.0, []), (3.99, ["t-1"]), (1.99, ["t-2", "t-1"])])
def test_what_does_not_fit_waits_the_least_pressing_first(page: Page, left: float, waits: list[str]):
    visit = {"orders": [{"test": "urgent"}, {"test": "routine"}]}
    tubes = [
        {"id": "t-1", "number": 1, "draw_ml": 2.0, "tests": ["routine"]},
        {"id": "t-2", "number": 2, "draw_ml": 2.0, "tests": ["urgent"]},
    ]

    (waiting,) = ask(page, "blood", "waitingTubes", [visit, tubes, left])

    assert [one["id"] for one in waiting] == waits
