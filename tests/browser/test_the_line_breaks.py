"""Whatever breaks between a tablet and the house: nothing is lost, nothing counts twice, the tablet says where it is.

Real Chromium, the real server, and a line that fails in every way we know (`fault_proxy.py`).
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Playwright

from . import fault_proxy as line
from .fault_proxy import FaultProxy
from .house_process import HouseProcess
from .killable_browser import KillableBrowser
from .tablet import Tablet
from .test_with_the_real_house import OWN_ENGINE, a_visit, sign_in
from .waiting import wait_until

BY_ITSELF_MS = 60_000


@pytest.fixture(scope="module")
def house(filled_house: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[HouseProcess]:
    """One real server for all the faults: each test has its own tablet, and looks for its own events."""
    running = HouseProcess(shutil.copytree(filled_house, tmp_path_factory.mktemp("faults") / "house"))
    running.start()
    yield running
    running.kill()


@pytest.fixture
def proxy(house: HouseProcess) -> Iterator[FaultProxy]:
    between = FaultProxy(house.port)
    between.start()
    yield between
    between.heal()
    between.refuse()


@pytest.fixture
def ines(profile: BrowserContext, proxy: FaultProxy) -> Tablet:
    """Ines has signed in on a tablet, over the line that will break, and taken her round out."""
    return signed_in(Tablet(profile.new_page(), proxy.url), proxy)


def signed_in(tablet: Tablet, where: Any) -> Tablet:
    sign_in(tablet, where)
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.until(state="quiet")
    return tablet


def stored(house: HouseProcess, tablet: Tablet) -> list[tuple[str, int]]:
    """Id and number of what the house holds of this tablet, in order of its numbers."""
    name = tablet.status()["tablet"]
    with closing(sqlite3.connect(house.home / "bedside.db")) as database:
        told = "SELECT id, seq FROM event WHERE tablet = ? ORDER BY seq"
        return database.execute(told, (name,)).fetchall()


def touched(tablet: Tablet, visit: str, count: int) -> list[dict[str, Any]]:
    return tablet.record_all([{"visit": visit, "kind": "site_touched"}] * count)["saved"]


def everything_is_there_once(house: HouseProcess, tablet: Tablet, saved: list[dict[str, Any]]) -> None:
    held = stored(house, tablet)
    assert held == [(event["id"], event["seq"]) for event in saved]
    assert {event["answer"]["status"] for event in tablet.events()} <= {"stored", "known"}


FAULTS = {
    "nobody-answers": line.at_the_doors(line.swallows),
    "cut-after-the-request": line.at_the_events(line.cuts_after_the_request),
    "cut-in-the-request": line.at_the_events(line.cuts_the_request_in_half),
    "cut-after-no-byte-but-the-status": line.at_the_events(line.cuts_after(17)),
    "cut-in-the-heads-of-the-answer": line.at_the_events(line.cuts_after(300)),
    "cut-in-the-answer-itself": line.at_the_events(line.cuts_after(-40)),
    "reset": line.at_the_doors(line.resets),
    "bad-gateway": line.at_the_doors(line.answers_with(line.page("502 Bad Gateway", "Bad gateway"))),
    "captive-portal": line.at_the_doors(line.answers_with(line.page("200 OK", "Welcome to the guest network"))),
    "sent-to-a-sign-in": line.at_the_doors(line.answers_with(line.page("302 Found", "Go", "Location: /sign-in"))),
}


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS)
def test_while_the_line_is_broken_the_tablet_keeps_everything_and_says_so_and_then_all_arrives_once(
    ines: Tablet, proxy: FaultProxy, house: HouseProcess, fault: line.Fault
):
    visit = a_visit(ines)
    proxy.break_with(fault)

    saved = touched(ines, visit, 3)
    ines.page.evaluate("void engine.tryAgain()")
    wait_until(lambda: proxy.faults, "the fault has struck")
    status = ines.until(state="waiting", unsent=3)
    assert status["retryAt"] is not None
    saved += touched(ines, visit, 2)
    assert ines.status()["unsent"] == 5

    proxy.heal()

    ines.until(unsent=0, state="quiet", patience_ms=BY_ITSELF_MS)
    everything_is_there_once(house, ines, saved)


def test_where_the_port_is_closed_the_tablet_keeps_everything_and_says_so(
    ines: Tablet, proxy: FaultProxy, house: HouseProcess
):
    visit = a_visit(ines)
    proxy.refuse()

    saved = touched(ines, visit, 3)
    ines.until(state="waiting", unsent=3)

    proxy.heal()
    ines.until(unsent=0, state="quiet", patience_ms=BY_ITSELF_MS)
    everything_is_there_once(house, ines, saved)


def test_a_portal_is_never_taken_for_contact(ines: Tablet, proxy: FaultProxy):
    before = ines.status()["lastContactAt"]
    proxy.break_with(FAULTS["captive-portal"])

    touched(ines, a_visit(ines), 1)
    ines.page.evaluate("void engine.tryAgain()")

    assert ines.until(state="waiting", unsent=1)["lastContactAt"] == before


def test_over_two_thousand_bytes_a_second_a_long_queue_arrives_in_smaller_letters(
    ines: Tablet, proxy: FaultProxy, house: HouseProcess
):
    """Thirty events take longer over such a line than a letter may."""
    visit = a_visit(ines)
    proxy.refuse()
    saved = touched(ines, visit, 30)
    ines.until(state="waiting", unsent=30)
    proxy.heal()
    proxy.break_with(line.at_the_doors(line.trickles(2000)))

    ines.until(unsent=0, state="quiet", patience_ms=2 * BY_ITSELF_MS)

    everything_is_there_once(house, ines, saved)
    assert proxy.faults


def test_on_a_line_that_is_there_and_gone_every_third_of_a_second_all_arrives_once(
    ines: Tablet, proxy: FaultProxy, house: HouseProcess
):
    visit = a_visit(ines)
    proxy.break_with(line.at_the_doors(line.flaps(0.3)))

    saved: list[dict[str, Any]] = []

    def was_gone_three_times() -> bool:
        saved.extend(touched(ines, visit, 2))
        ines.page.evaluate("engine.tryAgain()")
        return proxy.faults >= 3

    wait_until(was_gone_three_times, "the line was gone when it was needed, three times", seconds=60)

    ines.until(unsent=0, patience_ms=BY_ITSELF_MS)
    everything_is_there_once(house, ines, saved)


def test_a_proxy_on_the_way_that_takes_only_short_letters_gets_short_ones(
    ines: Tablet, proxy: FaultProxy, house: HouseProcess
):
    visit = a_visit(ines)
    proxy.refuse()
    saved = touched(ines, visit, 20)
    ines.until(state="waiting", unsent=20)
    proxy.heal()
    proxy.break_with(line.at_the_events(line.refuses_over(4000)))

    ines.until(unsent=0, state="quiet", patience_ms=BY_ITSELF_MS)

    everything_is_there_once(house, ines, saved)
    assert proxy.faults


def test_the_first_try_comes_within_two_seconds_of_the_networks_return(
    ines: Tablet, proxy: FaultProxy, profile: BrowserContext
):
    """However long the tablet has been waiting: by then it would try only every half minute by itself."""
    profile.set_offline(True)
    touched(ines, a_visit(ines), 1)
    for _ in range(7):
        ines.page.evaluate("engine.tryAgain()")
    ines.until(state="waiting", unsent=1)
    before = len(proxy.seen)

    profile.set_offline(False)

    tries = wait_until(lambda: [one for one in proxy.seen[before:] if one.is_for_a_door], "the first try", seconds=2)
    assert tries
    ines.until(unsent=0)


ASKS = "who => fetch(`/tablet/hello?asked=${who}`, {headers: {'X-Bedside': '1'}}).then(() => true, () => false)"


def test_offline_really_is_offline_inside_the_service_worker_too(
    ines: Tablet, proxy: FaultProxy, profile: BrowserContext
):
    """Else every test that says offline would prove nothing."""
    ines.opens_offline()
    worker = profile.service_workers[0]
    assert worker.evaluate(ASKS, "worker-online")
    profile.set_offline(True)

    assert not worker.evaluate(ASKS, "worker-offline")
    assert not ines.page.evaluate(ASKS, "page-offline")
    ines.page.reload()
    assert not ines.page.evaluate(ASKS, "page-reloaded-offline")
    assert not profile.service_workers[-1].evaluate(ASKS, "worker-after-reload-offline")

    asked = [one.line for one in proxy.seen if "asked=" in one.line]
    assert len(asked) == 1 and "worker-online" in asked[0]


def test_where_the_name_of_the_house_is_not_known_the_tablet_opens_and_keeps_everything(
    playwright: Playwright, browser_path: str, tmp_path: Path, house: HouseProcess
):
    """The name is found, then not, then found again: three starts of one tablet."""
    tablets = KillableBrowser(playwright, browser_path, tmp_path / "profile")
    known, unknown = (f"--host-resolver-rules=MAP ward.localhost {there}" for there in ("127.0.0.1", "^NOTFOUND"))
    where = Named(house.port)
    first = signed_in(Tablet(tablets.start(known), where.url), where)
    visit = a_visit(first)
    first.opens_offline()
    tablets.kill()

    away = Tablet(tablets.start(unknown), where.url)
    away.person = None
    away.page.goto(where.url)
    away.page.evaluate(OWN_ENGINE)
    away.ready()
    saved = touched(away, visit, 3)
    away.until(state="waiting", unsent=3)
    tablets.kill()

    back = Tablet(tablets.start(known), where.url)
    sign_in(back, where)  # a browser that was killed has forgotten who was signed in
    back.until(unsent=0, state="quiet", patience_ms=BY_ITSELF_MS)
    everything_is_there_once(house, back, saved)
    tablets.kill()


class Named:
    """The house under a name instead of a number."""

    def __init__(self, port: int) -> None:
        self.origin = f"http://ward.localhost:{port}"
        self.url = f"{self.origin}/tablet/"
