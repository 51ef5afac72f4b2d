"""T V14.3.3: what a whole round leaves on the disk of the tablet, read byte by byte.

The names, birth dates and record numbers of everybody on the round are looked for in UTF-8 and UTF-16, in every file of
the browser's profile: the database with its journals, the caches, the history, the session files.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Playwright

from .house_process import HouseProcess
from .killable_browser import KillableBrowser
from .on_the_ward import OnTheWard
from .waiting import wait_until

TITLES = """
window.said = [];
new MutationObserver(() => window.said.push(document.title)).observe(document, {childList: true, subtree: true});
globalThis.Notification = class { constructor(title, about) { window.said.push(title, JSON.stringify(about)); } };
"""

SAID = "said.join(' ') + document.title + location.href"


class OnATablet(OnTheWard):
    """The same, on a browser whose profile lies on the disk."""

    def __init__(self, context: BrowserContext, house: HouseProcess, pictures: Path) -> None:
        context.add_init_script(TITLES)
        super().__init__(context, house, pictures)


def looked_for(ward: OnTheWard) -> dict[str, bytes]:
    """What must not be found, as bytes, by what it is."""
    words = set()
    for row in ward.patients.values():
        year, month, day = row["birth_date"].split("-")
        words |= {row["family"], row["given"], row["record_number"], row["birth_date"], f"{day}{month}{year}"}
    words = {word for word in words if len(word) >= 5}  # two letters are found in any file
    told = {f"{word} in {code}": word.encode(code) for word in words for code in ("utf-8", "utf-16-le", "utf-16-be")}
    assert len(told) > 100
    return told


def found_in(profile: Path, told: dict[str, bytes]) -> list[str]:
    found = []
    for path in sorted(path for path in profile.rglob("*") if path.is_file() and not path.is_symlink()):
        try:
            content = path.read_bytes()
        except FileNotFoundError:  # a running browser takes its own files away
            continue
        found += [f"{what}: {path.relative_to(profile)}" for what, word in told.items() if word in content]
    return found


@dataclass(frozen=True)
class Walked:
    """What one whole round left behind, each as what was found of the names looked for."""

    receipt: str
    """What stands on the screen of the tablet that was handed back."""
    while_open: list[str]
    while_locked: list[str]
    switched_off: list[str]
    handed_back: list[str]
    in_titles_and_addresses: list[str]
    in_the_log: list[str]
    log: bytes
    events: int
    looked_for: int


@pytest.fixture(scope="module")
def walked(
    playwright: Playwright, browser_path: str, filled_house: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Walked]:
    """A round on a browser with its profile on the disk, walked once: open, locked, switched off, handed back."""
    home = tmp_path_factory.mktemp("walked")
    house = HouseProcess(shutil.copytree(filled_house, home / "house"))
    house.start()
    browser = KillableBrowser(playwright, browser_path, home / "profile")
    try:
        yield walk(browser, house, home)
    finally:
        browser.kill()
        house.kill()


def walk(browser: KillableBrowser, house: HouseProcess, home: Path) -> Walked:
    ward = started(browser, house, home)
    told = looked_for(ward)
    ward.sign_in()
    ward.takes_the_round()
    ward.draws("Nakagawa", tubes=1)
    wait_until(lambda: "all sent" in ward.status(), "everything is sent", seconds=60)
    said = [ward.page.evaluate(SAID)]
    while_open = found_in(browser.profile, told)
    ward.page.evaluate("window.skipped += 121000")
    ward.wait("unlock")
    while_locked = found_in(browser.profile, told)
    browser.kill()
    switched_off = found_in(browser.profile, told)
    again = started(browser, house, home)
    again.page.goto(house.url)
    again.unlocks()
    again.wait("round")
    again.hands_back()
    again.page.wait_for_selector("text=the round is closed")
    receipt = again.page.locator("#tablet").inner_text()
    said.append(again.page.evaluate(SAID))
    browser.kill()
    handed_back = found_in(browser.profile, told)
    house.kill()
    return Walked(
        receipt=receipt,
        while_open=while_open,
        while_locked=while_locked,
        switched_off=switched_off,
        handed_back=handed_back,
        in_titles_and_addresses=[what for what, word in told.items() if word in " ".join(said).encode()],
        in_the_log=[what for what, word in told.items() if word in house.said()],
        log=house.said(),
        events=len(house.events()),
        looked_for=len(told),
    )


def started(browser: KillableBrowser, house: HouseProcess, pictures: Path) -> OnATablet:
    browser.start()
    assert browser.context is not None
    return OnATablet(browser.context, house, pictures)


def test_T_V14_3_3_after_a_round_locked_and_handed_back_no_patient_is_found_on_the_disk(walked: Walked):
    assert walked.events > 10 and walked.looked_for > 100  # there was something to be found

    assert walked.while_locked == []
    assert walked.handed_back == []


def test_T_164_310_the_receipt_says_no_patients_nothing_unsent_and_that_the_round_is_closed(walked: Walked):
    assert "0 patients on this tablet, 0 unsent" in walked.receipt
    assert "the round is closed" in walked.receipt and "Sign in" in walked.receipt


def test_T_V14_3_3_stolen_while_off_the_disk_names_no_patient(walked: Walked):
    assert walked.switched_off == []


def test_while_it_is_unlocked_the_disk_names_no_patient_either(walked: Walked):
    """What the page says of an open tablet: the round is in memory and on the screen, and not on the disk."""
    assert walked.while_open == []


def test_T_H28_no_title_no_address_and_no_notification_names_a_patient(walked: Walked):
    assert walked.in_titles_and_addresses == []


def test_T_V14_2_1_and_V16_2_5_the_servers_log_names_no_patient(walked: Walked):
    assert b"http://127.0.0.1" in walked.log
    assert walked.in_the_log == []


def test_the_scan_finds_what_is_there(killable: KillableBrowser, server: HouseProcess, tmp_path: Path):
    """A scan proves something only if it can find: the same names, written into storage of the page itself."""
    ward = started(killable, server, tmp_path)
    told = looked_for(ward)
    ward.page.goto(server.url)
    ward.page.evaluate("localStorage.setItem('leak', 'Nakagawa')")
    ward.page.evaluate(
        """() => new Promise(done => {
          const request = indexedDB.open("leak");
          request.onupgradeneeded = () => request.result.createObjectStore("rows");
          request.onsuccess = () => {
            const row = request.result.transaction("rows", "readwrite", { durability: "strict" });
            row.objectStore("rows").put("Dervishi \\u0131", 1);
            row.oncomplete = () => done();
          };
        })"""
    )

    wait_until(lambda: any("Dervishi in utf-16-le" in one for one in found_in(killable.profile, told)), "it is found")
