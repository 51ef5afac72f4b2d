"""The tablet's engine and the real server, each killed at bad moments: everything arrives, once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from .house_process import HouseProcess, passphrase_of
from .tablet import Tablet
from .waiting import wait_until

OWN_ENGINE = """async () => {
  const build = document.documentElement.dataset.build;
  const { startEngine } = await import(`/static/${build}/js/tablet/engine.js`);
  window.engine = startEngine();
}"""
"""Beside the app's own engine, as a second tab would have one."""


@pytest.fixture
def ines(profile: BrowserContext, server: HouseProcess) -> Iterator[Tablet]:
    """Ines has signed in on a tablet and taken her round out."""
    tablet = Tablet(profile.new_page(), server.url)
    sign_in(tablet, server)
    tablet.page.evaluate("engine.refreshPacket()")
    yield tablet


def type_passphrase(tablet: Tablet, server: HouseProcess) -> None:
    tablet.page.goto(f"{server.origin}/sign-in?next=/tablet/")
    tablet.page.fill("#name", "ines")
    tablet.page.fill("#password", passphrase_of("ines"))
    tablet.page.click("button")
    tablet.page.wait_for_url(server.url)


def sign_in(tablet: Tablet, server: HouseProcess) -> None:
    tablet.person = None
    type_passphrase(tablet, server)
    tablet.page.evaluate(OWN_ENGINE)
    tablet.ready()


def reload(tablet: Tablet) -> None:
    tablet.page.reload()
    tablet.page.evaluate(OWN_ENGINE)
    tablet.ready()


def a_visit(tablet: Tablet) -> str:
    return tablet.page.evaluate("engine.packet().then(packet => packet.visits[0].id)")


def test_the_packet_of_the_house_is_taken_as_it_is(ines: Tablet):
    packet = ines.page.evaluate("engine.packet()")

    assert packet["visits"]
    assert ines.status()["person"]["name"] == "Ines Baptista"
    assert ines.page.evaluate("engine.takeSpare()")["specimen"]


def test_a_round_recorded_while_the_server_is_dead_arrives_once(ines: Tablet, server: HouseProcess):
    visit = a_visit(ines)
    ines.opens_offline()
    server.kill()
    reload(ines)
    saved = [ines.record(visit, "arrived"), *[ines.record(visit, "site_touched") for _ in range(4)]]
    ines.until(unsent=5, state="waiting")

    server.start()

    ines.all_sent()
    assert server.events() == [(event["id"], event["seq"]) for event in saved]
    assert {event["answer"]["status"] for event in ines.events()} == {"stored"}


def test_a_server_killed_again_and_again_while_it_takes_events_loses_and_doubles_none(
    ines: Tablet, server: HouseProcess
):
    visit = a_visit(ines)
    saved = []
    for _ in range(4):
        ines.page.evaluate("visit => { window.going = engine.tryAgain(); }", visit)
        saved += [ines.record(visit, "site_touched") for _ in range(10)]
        server.kill()
        saved += [ines.record(visit, "site_touched") for _ in range(2)]
        server.start()

    ines.all_sent()

    assert sorted(server.events(), key=lambda event: event[1]) == [(event["id"], event["seq"]) for event in saved]
    assert [event["seq"] for event in saved] == list(range(1, 49))


def test_after_a_restore_the_house_gets_back_what_the_backup_lacked(ines: Tablet, server: HouseProcess, tmp_path: Path):
    visit = a_visit(ines)
    server.command("backup", str(tmp_path / "backup.db"))
    saved = ines.record(visit, "arrived")
    ines.all_sent()
    server.kill()
    server.command("restore", str(tmp_path / "backup.db"))
    assert server.events() == []
    server.start()

    type_passphrase(ines, server)

    # The app on the page notices by itself, moves over and offers what the house has forgotten.
    wait_until(lambda: server.events() == [(saved["id"], saved["seq"])], "the event came home again")


def test_a_house_restored_from_before_the_tablet_was_enrolled_still_gets_everything(
    profile: BrowserContext, server: HouseProcess, tmp_path: Path
):
    server.command("backup", str(tmp_path / "backup.db"))
    tablet = Tablet(profile.new_page(), server.url)
    sign_in(tablet, server)
    tablet.page.evaluate("engine.refreshPacket()")
    server.kill()
    saved = tablet.record(a_visit(tablet), "arrived")
    server.command("restore", str(tmp_path / "backup.db"))
    server.start()

    type_passphrase(tablet, server)

    wait_until(lambda: server.events() == [(saved["id"], saved["seq"])], "the event came home")


def test_signed_out_the_tablet_sends_by_its_own_signature_and_says_that_nobody_is_signed_in(
    ines: Tablet, server: HouseProcess
):
    ines.page.context.clear_cookies()
    saved = ines.record(a_visit(ines), "arrived")
    ines.page.evaluate("engine.tryAgain()")

    ines.until(state="sign-in", unsent=0)

    assert server.events() == [(saved["id"], saved["seq"])]
    assert ines.events()[0]["answer"]["status"] == "stored"
