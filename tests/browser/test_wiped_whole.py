"""A page that dies in the middle of a wipe: when it starts again, all of it is done or nothing; the unsent is there.

A wipe is one transaction of the browser's store. The page is killed over one of its changes after another: it is held
there in a loop that never ends, so that nothing after it is asked for, and the process behind it is killed.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from .stand_in import StandIn
from .tablet import Tablet
from .test_vault import CHANGE_PEOPLE, rows

DIE_AT = """at => {
  let asked = 0;
  for (const name of ["put", "delete", "clear"]) {
    const real = IDBObjectStore.prototype[name];
    IDBObjectStore.prototype[name] = function (...what) {
      const isOfTheWipe = [...this.transaction.objectStoreNames].includes("rounds");
      const request = real.apply(this, what);
      asked += isOfTheWipe ? 1 : 0;
      if (isOfTheWipe && asked === at) {
        console.log("held");
        for (;;) { /* until the page is killed */ }
      }
      return request;
    };
  }
}"""
"""Hangs the page for good over this change of the wipe, which is the only transaction that changes `rounds` here."""


def hands_back(page: Page) -> None:
    page.evaluate("void setTimeout(() => engine.handBack().then(() => console.log('through')))")


def types_the_tenth_wrong_pin(page: Page) -> None:
    page.evaluate(f"({CHANGE_PEOPLE})(row => ({{ ...row, tries: 9, wait_until: null }}))")
    page.evaluate("engine.lock()")
    page.evaluate("void setTimeout(() => engine.unlock('p-ines', '111222').catch(() => console.log('through')))")


def forgot_the_pin(page: Page) -> None:
    page.wait_for_function("() => engine.status.freshSignIn")
    new = "engine.setPin({ id: 'p-ines', name: 'Ines' }, '846203').then(() => console.log('through'))"
    page.evaluate(f"void setTimeout(() => {new})")


class OnOneProfile:
    """A tablet with two unsent records whose page dies and comes back."""

    def __init__(self, profile: BrowserContext, stand_in: StandIn) -> None:
        self.profile = profile
        self.stand_in = stand_in
        self.tablet = Tablet(profile.new_page(), stand_in.url).open()
        self.tablet.page.evaluate("engine.refreshPacket()")
        stand_in.faults.refuse = [503] * 1000  # it answers who is there, and takes nothing
        self.unsent = [self.tablet.record()["id"] for _ in range(2)]

    def dies(self, at: int, doing: Callable[[Page], None]) -> bool:
        """Do it on a page that dies over the change of this number; False when it got through before."""
        page = self.tablet.page
        page.evaluate(DIE_AT, at)
        with page.expect_console_message(lambda line: line.text in ("held", "through")) as heard:
            doing(page)
        is_held = heard.value.text == "held"
        _kill(page)
        self.tablet = Tablet(self.profile.new_page(), self.stand_in.url)
        self.tablet.page.goto(self.stand_in.url)
        self.tablet.starts()
        return is_held

    def stands(self) -> tuple[int, int, int]:
        """Keys of people, rounds, packets."""
        seeds = [row for row in rows(self.tablet, "people") if row["seed"]]
        return len(seeds), len(rows(self.tablet, "rounds")), len(rows(self.tablet, "packets"))


def _kill(page: Page) -> None:
    """SIGKILL to the process behind a page that hangs."""
    browser = page.context.browser
    assert browser is not None
    told = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    with page.expect_event("crash"):
        for process in told:
            if process["type"] == "renderer":
                os.kill(process["id"], signal.SIGKILL)
    page.close()


@pytest.mark.parametrize(
    ("doing", "wiped"),
    [(hands_back, (0, 0, 0)), (types_the_tenth_wrong_pin, (0, 0, 0)), (forgot_the_pin, (1, 0, 0))],
    ids=["handed back", "ten wrong PINs", "forgotten PIN"],
)
def test_T_3_3_C11_a_page_killed_over_each_step_of_a_wipe_has_wiped_all_or_nothing_and_has_all_that_was_unsent(
    profile: BrowserContext, stand_in: StandIn, doing: Callable[[Page], None], wiped: tuple[int, int, int]
):
    there = OnOneProfile(profile, stand_in)
    died_at = []

    for at in range(2, 60, 6):
        died = there.dies(at, doing)
        died_at.append(at)
        kept = [row["id"] for row in rows(there.tablet, "outbox")]
        assert sorted(kept) == sorted(there.unsent)
        # The tenth PIN was counted before anything else: what the page did not live to wipe, its next start does.
        is_finished = not died or doing is types_the_tenth_wrong_pin
        assert there.stands() == (wiped if is_finished else (1, 1, 1)), (at, died)
        if is_finished:
            break
        there.tablet.unlock()

    assert len(died_at) > 1 or doing is types_the_tenth_wrong_pin
    assert all(row["ours"] is None for row in rows(there.tablet, "events"))
    stand_in.faults.refuse = []
    there.tablet.all_sent()
    assert sorted(stand_in.stored) == sorted(there.unsent)
