"""T V14.3.3: what a whole round leaves on the disk of the tablet, read byte by byte.

The names, birth dates and record numbers of everybody on the round are looked for in UTF-8 and UTF-16, in every file of
the browser's profile: the database with its journals, the caches, the history, the session files.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from .house_process import HouseProcess
from .killable_browser import KillableBrowser
from .on_the_ward import OnTheWard
from .waiting import wait_until

TITLES = """
window.said = [];
new MutationObserver(() => window.said.push(document.title)).observe(document, {childList: true, subtree: true});
globalThis.Notification = class { constructor(title, about) { window.said.push(title, JSON.stringify(about)); } };
"""


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


@pytest.fixture
def ward(killable: KillableBrowser, server: HouseProcess, tmp_path: Path) -> OnATablet:
    killable.start()
    assert killable.context is not None
    return OnATablet(killable.context, server, tmp_path)


def test_T_V14_3_3_after_a_round_locked_and_handed_back_no_patient_is_found_on_the_disk(
    ward: OnATablet, killable: KillableBrowser, server: HouseProcess
):
    told = looked_for(ward)
    ward.sign_in()
    ward.takes_the_round()
    ward.draws("Nakagawa", tubes=1)
    wait_until(lambda: "all sent" in ward.status(), "everything is sent", seconds=60)
    said = ward.page.evaluate("said.join(' ') + document.title + location.href")
    assert [what for what, word in told.items() if what.endswith("utf-8") and word in said.encode()] == []
    visited = [event[0] for event in server.events()]
    assert len(visited) > 10

    ward.page.evaluate("window.skipped += 121000")
    ward.wait("unlock")
    wait_until(lambda: (killable.profile / "Default" / "IndexedDB").exists(), "the store is on the disk")
    while_locked = found_in(killable.profile, told)
    ward.unlocks()
    ward.hands_back()
    killable.kill()

    assert while_locked == []
    assert found_in(killable.profile, told) == []


def test_the_scan_finds_what_is_there(killable: KillableBrowser, server: HouseProcess, ward: OnATablet):
    """A scan proves something only if it can find: the same names, written into storage of the page itself."""
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


def test_T_V14_2_1_and_V16_2_5_the_servers_log_names_no_patient(ward: OnATablet, server: HouseProcess):
    told = looked_for(ward)
    ward.sign_in()
    ward.takes_the_round()
    ward.goes_to("Nakagawa")
    ward.proves_identity("Nakagawa")
    ward.page.goto("about:blank")

    server.kill()

    log = server.said()
    assert b"http://127.0.0.1" in log
    assert [what for what, word in told.items() if word in log] == []
