"""A whole morning: the round is taken out, the server dies, six patients are seen, the server comes back."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from .house_process import HouseProcess, passphrase_of
from .on_the_ward import OnTheWard
from .waiting import wait_until

PICTURES = Path(__file__).resolve().parents[2] / "test-run"


@pytest.fixture
def ward(whole_profile: BrowserContext, server: HouseProcess) -> OnTheWard:
    PICTURES.mkdir(exist_ok=True)
    return OnTheWard(whole_profile, server, PICTURES)


def test_a_morning_with_the_server_dead_in_the_middle(ward: OnTheWard, server: HouseProcess, browser: Browser):
    ward.sign_in()
    ward.takes_the_round()
    ward.picture("morning-1-round")

    server.kill()
    ward.starts_anew()
    ward.wait("round")

    ward.draws("Nakagawa", tubes=1)
    ward.draws("Dervishi", tubes=2, held_s=305)
    a_fistula_arm(ward)
    a_refusal(ward)
    a_second_attempt(ward)
    a_faint(ward)
    ward.picture("morning-2-six-seen")
    assert "unsent" in ward.status()
    written = unsent_events(ward.page)

    server.start()

    wait_until(lambda: "all sent" in ward.status(), "everything is sent", seconds=60)
    ward.picture("morning-3-all-sent")
    assert server.events() == [(event["id"], event["seq"]) for event in written]
    assert outcomes(server) == {
        "Nakagawa": "collected",
        "Dervishi": "collected",
        "Ojala": "collected",
        "Adeyemi": "refused",
        "Kavanagh": "collected",
        "Yılmaz": "unsafe",
    }
    assert stops(server) == []
    assert rows(server, "SELECT COUNT(*), SUM(differs) FROM reported_verdict") == [(6, 0)]
    assert server.command("verify")
    the_charge_nurse_sees_it(browser, server)
    the_safety_officer_sees_it(browser, server)
    assert ward.problems == []


def a_fistula_arm(ward: OnTheWard) -> None:
    """The left arm is closed in words; the tablet takes the right one."""
    ward.goes_to("Ojala")
    ward.proves_identity("Ojala")
    ward.is_answered()
    ward.picture("morning-fistula-arm")
    assert "closed: fistula" in ward.page.locator('.arm[data-closed="yes"][data-side="left"]').inner_text()
    assert "Right arm" in ward.page.locator("button.main").inner_text()
    ward.finds_the_vein()
    ward.puts_the_needle_in()
    ward.fills(1)
    ward.labels("Ojala", 1)
    ward.sees_it_dry(125, "bag")
    ward.leaves()


def a_refusal(ward: OnTheWard) -> None:
    """Asked, and the answer is no; who was told is put in."""
    ward.goes_to("Adeyemi")
    ward.proves_identity("Adeyemi")
    ward.tap("Refused", "refused")
    ward.picture("morning-refusal")
    ward.main("not_drawn")
    ends_without_blood(ward)


def a_second_attempt(ward: OnTheWard) -> None:
    """No blood flows at the first try; the other arm gives it."""
    ward.goes_to("Kavanagh")
    ward.proves_identity("Kavanagh")
    ward.is_answered()
    ward.finds_the_vein()
    ward.puts_the_needle_in()
    ward.tap("No blood flows", "no_flow")
    ward.main("site")
    ward.sees_it_dry(125, "again")
    ward.main("arms")
    ward.finds_the_vein()
    ward.puts_the_needle_in()
    ward.picture("morning-second-attempt")
    ward.fills(2)
    ward.labels("Kavanagh", 2)
    ward.sees_it_dry(125, "bag")
    ward.leaves()


def a_faint(ward: OnTheWard) -> None:
    """Needle in, and the patient faints: first what to do, then the note; no tube was filled."""
    ward.goes_to("Yılmaz")
    ward.proves_identity("Yılmaz")
    ward.is_answered()
    ward.finds_the_vein()
    ward.puts_the_needle_in()
    ward.tap("Something is wrong", "wrong")
    ward.tap("Faint", "first_aid")
    ward.picture("morning-faint-first-aid")
    ward.tap("Awake again")
    ward.page.locator("button.main", has_text="needle out").click()
    ward.page.locator("button.main", has_text="Safe now").click()
    ward.wait("note")
    write_the_note(ward)
    ward.picture("morning-faint-note")
    after_the_faint(ward)


def write_the_note(ward: OnTheWard) -> None:
    for step in ("Tourniquet off", "Call for help", "Lay the patient flat"):
        ward.tap(step)
    ward.page.get_by_label("What happened").fill("Pale, then gone for a few seconds as the needle went in.")
    ward.page.get_by_label("Who was told").fill("Maren Solberg")
    ward.tap("charge nurse")
    ward.tap("mild")


def after_the_faint(ward: OnTheWard) -> None:
    """The note is saved; no tube was filled, the site is watched, nobody tries again, somebody stays."""
    ward.main("afterwards")
    ward.tap("I stopped", "site")
    ward.sees_it_dry(125, "again")
    ward.tap("Stop here", "not_drawn")
    ward.tap("Unsafe")
    ward.time_passes(15 * 60)
    ends_without_blood(ward)


def ends_without_blood(ward: OnTheWard) -> None:
    """Who was told is put in, and the visit ends."""
    ward.page.get_by_role("textbox").first.fill("Maren Solberg")
    ward.tap("charge nurse")
    ward.main("ended")
    ward.main("round")


READ_STORE = """async () => {
  const names = (await indexedDB.databases()).map(each => each.name).filter(name => name.startsWith("bedside-h"));
  const opened = await new Promise((done, failed) => {
    const request = indexedDB.open(names[0]);
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  const request = opened.transaction("events").objectStore("events").getAll();
  const found = await new Promise(done => { request.onsuccess = () => done(request.result); });
  opened.close();
  return found.map(({id, seq}) => ({id, seq})).sort((a, b) => a.seq - b.seq);
}"""
"""What lies on the tablet's disk, read past the app."""


def unsent_events(page: Page) -> list[dict[str, object]]:
    found: list[dict[str, object]] = page.evaluate(READ_STORE)
    return found


def rows(server: HouseProcess, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(server.home / "bedside.db")) as database:
        return database.execute(query).fetchall()


def outcomes(server: HouseProcess) -> dict[str, str]:
    """What became of each visit, by the patient's family name."""
    query = """
        SELECT patient.family, visit_now.outcome FROM visit_now
        JOIN visit ON visit.id = visit_now.visit_id JOIN patient ON patient.id = visit.patient_id
    """
    return dict(rows(server, query))


def stops(server: HouseProcess) -> list[tuple[object, ...]]:
    return rows(server, "SELECT code, severity FROM finding_now WHERE severity = 'stop'")


def the_charge_nurse_sees_it(browser: Browser, server: HouseProcess) -> None:
    page = desk(browser, server, "maren")
    text = page.locator("main").inner_text()
    page.screenshot(path=PICTURES / "morning-ward-now.png", full_page=True)
    assert "Adeyemi" in text and "refused" in text.lower()


def the_safety_officer_sees_it(browser: Browser, server: HouseProcess) -> None:
    page = desk(browser, server, "leela")
    page.screenshot(path=PICTURES / "morning-incidents.png", full_page=True)
    assert "Faint" in page.locator("main").inner_text()


def desk(browser: Browser, server: HouseProcess, who: str) -> Page:
    page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
    page.goto(f"{server.origin}/")
    page.fill("#name", who)
    page.fill("#password", passphrase_of(who))
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/sign-in" not in url)
    return page
