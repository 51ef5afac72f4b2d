"""The pure parts of the engine, row by row: answers, delays, clocks, readers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from .stand_in import StandIn
from .tablet import Tablet, open_tablet


@pytest.fixture(scope="module")
def modules(browser: Browser, engine_files: Path) -> Iterator[Tablet]:
    """One page for all rows: nothing here leaves a trace."""
    house = StandIn(engine_files)
    house.start()
    context = browser.new_context()
    yield open_tablet(context, house.url)
    context.close()
    house.stop()


SETTLE = "({ settle }, [sent, answers]) => settle(sent, answers)"


@pytest.mark.parametrize(
    ("status", "hash", "lands"),
    [
        ("stored", "h1", "letGo"),
        ("known", "h1", "letGo"),
        ("set-aside", "h1", "letGo"),
        ("stored", "h2", "hash-differs"),
        ("known", None, "hash-differs"),
        ("id-reused", "h1", "id-reused"),
        ("id-reused", "h2", "id-reused"),
        ("thrown away", "h1", "refused"),
        (None, "h1", "refused"),
    ],
)
def test_an_event_is_let_go_of_only_on_the_three_words_with_its_own_hash(
    modules: Tablet, status: str | None, hash: str | None, lands: str
):
    answers = [{"id": "a", "status": status, "hash": hash}]
    settled = modules.module("delivery.js", SETTLE, [[{"id": "a", "hash": "h1"}], answers])

    held = [one["why"] for one in settled["holdBack"]]
    assert (["letGo"] if settled["letGo"] else held) == [lands]
    assert settled["unanswered"] == []


def test_an_answer_to_something_never_sent_changes_nothing(modules: Tablet):
    answers = [{"id": "b", "status": "stored", "hash": "h1"}]

    assert modules.module("delivery.js", SETTLE, [[{"id": "a", "hash": "h1"}], answers]) == {
        "letGo": [],
        "holdBack": [],
        "unanswered": ["a"],
    }


@pytest.mark.parametrize(
    ("failures", "chance", "retry_after", "delay"),
    [
        (1, 0, None, 200),
        (1, 0.999, None, 999),
        (2, 0.5, None, 1000),
        (7, 0.999, None, 59_940),
        (1000, 0.999, None, 59_940),
        (1, 0, 5000, 5000),
        (3, 0.5, 90_000, 90_000),
    ],
)
def test_the_delay_grows_to_a_minute_and_has_no_end(
    modules: Tablet, failures: int, chance: float, retry_after: int | None, delay: int
):
    given = modules.module("delivery.js", "({ delayMs }, given) => delayMs(...given)", [failures, chance, retry_after])

    assert given == delay


def test_a_batch_is_of_one_tablet_and_not_too_long(modules: Tablet):
    first_batch = "({ firstBatch }, [waiting, most]) => firstBatch(waiting, most).map(event => event.n)"
    waiting = [{"n": n, "tablet": "old" if n < 3 else "new", "body": "x"} for n in range(6)]
    long = [{"n": n, "tablet": "t", "body": "x" * 200_000} for n in range(3)]

    assert modules.module("delivery.js", first_batch, [waiting, 50]) == [0, 1, 2]
    assert modules.module("delivery.js", first_batch, [waiting, 2]) == [0, 1]
    assert modules.module("delivery.js", first_batch, [long, 50]) == [0]
    assert modules.module("delivery.js", first_batch, [[], 50]) == []


@pytest.mark.parametrize(
    ("server", "asked", "answered", "skew", "error"),
    [
        # The tablet's wall clock stands at 10 000 when the answer comes, 400 ms after the question.
        (9_800, 0, 400, 1, 201),
        (13_600_000, 0, 400, 13_590_201, 201),
        (10_000, 0, 0, 1, 1),
    ],
)
def test_the_servers_clock_is_read_at_half_the_way(
    modules: Tablet, server: int, asked: int, answered: int, skew: int, error: int
):
    measured = modules.module(
        "clock.js",
        "({ measure }, [server, asked, answered]) => measure(server, 1, {wall: 0, mono: asked}, "
        "{wall: 10000, mono: answered})",
        [server, asked, answered],
    )

    assert (measured["skewMs"], measured["errorMs"]) == (skew, error)


@pytest.mark.parametrize(
    ("known", "fresh", "chosen"),
    [
        (None, (500, 100, 0), "fresh"),
        ((500, 50, 0), (520, 300, 1000), "known"),  # a slow answer tells nothing new
        ((500, 300, 0), (520, 50, 1000), "fresh"),
        ((500, 50, 0), (520, 300, 700_000), "fresh"),  # after ten minutes drift may have outgrown it
        ((500, 50, 0), (7_200_000, 300, 1000), "fresh"),  # somebody set a clock
    ],
)
def test_the_tighter_reading_counts_until_it_is_old_or_contradicted(
    modules: Tablet, known: tuple | None, fresh: tuple, chosen: str
):
    as_skew = [dict(zip(("skewMs", "errorMs", "wall"), one, strict=True)) if one else None for one in (known, fresh)]

    kept = modules.module("clock.js", "({ better }, [known, fresh]) => better(known, fresh)", as_skew)

    assert kept == as_skew[1 if chosen == "fresh" else 0]


READ = """({ take, NOTHING }, presses) => {
  let burst = NOTHING;
  const scans = [];
  for (const [key, at, more] of presses) {
    const taken = take(burst, {key, ...more}, at);
    burst = taken.burst;
    if (taken.scan !== null) scans.push(taken.scan);
  }
  return scans;
}"""


def keys(text: str, every_ms: int, start: int = 0) -> list[list]:
    """Keys at a steady speed; `↵` is Enter."""
    return [["Enter" if key == "↵" else key, start + n * every_ms, {}] for n, key in enumerate(text)]


@pytest.mark.parametrize(
    ("presses", "scans"),
    [
        (keys("1000000017↵", 5), ["1000000017"]),
        (keys("1000000017↵", 50), ["1000000017"]),  # exactly the longest gap
        (keys("1000000017↵", 51), []),  # just above it: a person
        (keys("1951↵", 5), ["1951"]),  # exactly the shortest burst
        (keys("195↵", 5), []),
        (keys("09031951↵", 90), []),
        (keys("1000000017", 5), []),  # no Enter
        ([*keys("1000000017", 5), ["Enter", 500, {}]], []),  # Enter by hand, later
        (keys("19", 200) + keys("1000000017↵", 5, 1000), ["1000000017"]),  # typed before it: not part of it
        (keys("1000000017↵1000000024↵", 5), ["1000000017", "1000000024"]),
        ([["x", n * 30, {"repeat": n > 0}] for n in range(20)] + [["Enter", 600, {}]], []),  # a key held down
        ([["A", 0, {}], ["Shift", 2, {}], ["B", 4, {}], ["c", 6, {}], ["D", 8, {}], ["Enter", 10, {}]], ["ABcD"]),
        ([*keys("8018", 5), ["]", 20, {"ctrlKey": True}], *keys("21↵", 5, 25)], ["8018\u001d21"]),
        ([*keys("100", 5), ["Backspace", 16, {}], *keys("0017↵", 5, 20)], ["0017"]),
    ],
)
def test_a_readers_burst_is_told_from_typing(modules: Tablet, presses: list, scans: list[str]):
    assert modules.module("reading.js", READ, presses) == scans


@pytest.mark.parametrize(
    ("canary", "found", "lost"),
    [
        (None, ("t-new", 0), False),
        (("t-1", 7), ("t-1", 7), False),
        (("t-1", 7), ("t-1", 8), False),  # died between saving and noting it
        (("t-1", 7), ("t-1", 6), True),
        (("t-1", 7), ("t-2", 0), True),
        (("t-1", 0), ("t-2", 0), False),  # nothing had been saved
    ],
)
def test_a_loss_is_told_from_a_fresh_start(modules: Tablet, canary: tuple | None, found: tuple, lost: bool):
    canary, found = [dict(zip(("tablet", "seq"), one, strict=True)) if one else None for one in (canary, found)]

    told = modules.module(
        "house.js", "({ whatWasLost }, [canary, found]) => whatWasLost(canary, found)", [canary, found]
    )

    assert told == (canary if lost else None)
