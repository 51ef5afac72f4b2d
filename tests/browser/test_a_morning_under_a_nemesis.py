"""Tablets of one ward, and everything breaks all the time: what was called saved is stored, once, and all agree.

Three tablets in an ordinary run; eight for a minute, or for half an hour, by hand with `-m long`.

A run prints its seed; `NEMESIS_SEED=… pytest FILE` acts the same way again. What was tried, and how often, is written
to `test-run/nemesis.txt`.
"""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext

from .house_process import HouseProcess
from .nemesis import ASKS, Carried, KeepingProxy, Nemesis
from .tablet import Tablet
from .test_a_morning import PICTURES, desk
from .test_with_the_real_house import type_passphrase

SECONDS, MINUTE, HALF_AN_HOUR = 10, 60, 30 * 60
"""Of trouble; longer on a machine too busy to try everything once by then."""

DRAIN_MS = 120_000


@pytest.fixture
def house(filled_house: Path, tmp_path: Path) -> Iterator[HouseProcess]:
    running = HouseProcess(shutil.copytree(filled_house, tmp_path / "house"))
    running.start()
    yield running
    running.kill()


@pytest.fixture
def carried(browser: Browser, house: HouseProcess, request: pytest.FixtureRequest) -> Iterator[list[Carried]]:
    """So many tablets, each with a line of its own, signed in, enrolled, unlocked, and the round taken out."""
    kept: dict[str, bytes] = {}
    lines = [KeepingProxy(house.port, kept) for _ in range(request.param)]
    contexts = [browser.new_context() for _ in lines]
    tablets = [Carried(context, line, a_tablet(context)) for context, line in zip(contexts, lines, strict=True)]
    for who in tablets:
        who.line.start()
        who.tablet.url = who.line.url
    sign_in_all(tablets)
    for who in tablets:
        takes_the_round(who)
    yield tablets
    for who in tablets:
        who.context.close()
        who.line.heal()
        who.line.refuse()


def a_tablet(context: BrowserContext) -> Tablet:
    tablet = Tablet(context.new_page(), "")
    tablet.person = None
    return tablet


def sign_in_all(tablets: list[Carried]) -> None:
    """The passphrase is typed once: a cookie does not ask for the port."""
    type_passphrase(tablets[0].tablet, tablets[0].line)
    for who in tablets[1:]:
        who.context.add_cookies(tablets[0].context.cookies())


def takes_the_round(who: Carried) -> None:
    who.opens()
    who.tablet.page.evaluate("engine.refreshPacket()")
    who.tablet.opens_offline()


@pytest.mark.parametrize("carried", [3], indirect=True)
def test_under_a_nemesis_all_that_was_called_saved_is_stored_once_and_all_pages_agree(
    carried: list[Carried], house: HouseProcess, browser: Browser
):
    a_morning(carried, house, browser, SECONDS)


@pytest.mark.long
@pytest.mark.parametrize("carried", [8], indirect=True)
@pytest.mark.parametrize("seconds", [MINUTE, HALF_AN_HOUR])
def test_under_a_nemesis_of_eight_tablets_nothing_is_lost_or_doubled(
    carried: list[Carried], house: HouseProcess, browser: Browser, seconds: float
):
    a_morning(carried, house, browser, seconds)


def a_morning(carried: list[Carried], house: HouseProcess, browser: Browser, seconds: float) -> None:
    seed = int(os.environ.get("NEMESIS_SEED") or secrets.randbits(32))
    print(f"NEMESIS_SEED={seed}")
    visits = carried[0].tablet.page.evaluate("engine.packet().then(packet => packet.visits.map(each => each.id))")
    nemesis = Nemesis(seed, carried, house, visits)
    began = time.monotonic()
    try:
        while time.monotonic() - began < seconds or nemesis.untried:
            nemesis.act()
        healed = time.monotonic()
        nemesis.heals()
        for who in carried:
            who.tablet.page.evaluate(ASKS)
            who.tablet.until(unsent=0, heldBack=0, patience_ms=DRAIN_MS)
    finally:
        said = f"NEMESIS_SEED={seed}\n{nemesis.acts} times recorded\n{nemesis.report()}\n"
        print(said)
    drained_s = time.monotonic() - healed
    nothing_is_lost_and_nothing_is_there_twice(carried, house)
    all_pages_agree(carried, house, browser)
    counted = sum(len(who.saved) for who in carried)
    PICTURES.mkdir(exist_ok=True)
    drained = f"{counted} events called saved, all stored once; drained in {drained_s:.1f} s\n"
    (PICTURES / "nemesis.txt").write_text(said + drained)


def nothing_is_lost_and_nothing_is_there_twice(carried: list[Carried], house: HouseProcess) -> None:
    stored = rows(house, "SELECT id, tablet, seq, visit FROM event")
    ids = [row[0] for row in stored]
    saved = {each for who in carried for each in who.saved}
    perhaps = {each for who in carried for each in who.perhaps}
    assert len(saved) > 13 * len(carried)
    assert saved - set(ids) == set()
    assert set(ids) - saved - perhaps == set()
    assert len(ids) == len(set(ids)) == len({row[1:3] for row in stored})
    for who in carried:
        name = who.tablet.status()["tablet"]
        numbers = sorted(row[2] for row in stored if row[1] == name)
        assert numbers == list(range(1, len(numbers) + 1))


def all_pages_agree(carried: list[Carried], house: HouseProcess, browser: Browser) -> None:
    """A tablet says of each visit what the house has of it; the ward's page says the same before and after a kill."""
    stored = Counter(rows(house, "SELECT tablet, visit FROM event"))
    for who in carried:
        name = who.tablet.status()["tablet"]
        told = Counter((name, event["body"]["visit"]) for event in who.tablet.events())
        assert told == {key: count for key, count in stored.items() if key[0] == name}
    ended = {visit for (visit,) in rows(house, "SELECT visit FROM event WHERE kind = 'visit_ended'")}
    shown = {visit for (visit,) in rows(house, "SELECT visit_id FROM visit_now WHERE outcome IS NOT NULL")}
    assert shown == ended
    before = counts_on_the_ward_page(browser, house)
    house.kill()
    assert house.command("verify")
    house.start()
    assert counts_on_the_ward_page(browser, house) == before != []


def counts_on_the_ward_page(browser: Browser, house: HouseProcess) -> list[str]:
    page = desk(browser, house, "maren")
    counts = page.locator(".counts li").all_inner_texts()
    page.context.close()
    return counts


def rows(house: HouseProcess, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(house.home / "bedside.db")) as database:
        return database.execute(query).fetchall()
