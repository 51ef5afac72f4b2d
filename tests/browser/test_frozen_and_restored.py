"""What a browser does to a page behind its back: brought back from a snapshot, a lock that nobody gives up any more."""

from __future__ import annotations

import re

from bedside.settings import folder

from .stand_in import HOUSE, StandIn
from .tablet import Tablet
from .waiting import wait_until

RESTORED = "dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))"

HELD_FOR_EVER = """house => new Promise(held =>
  navigator.locks.request(`bedside-send-${house}`, () => { held(); return new Promise(() => {}); }))"""
"""As a tab does that was frozen with the lock in its hand. The lock is the origin's, whichever page took it."""

HALF_A_MINUTE_LATER = """() => {
  const now = performance.now.bind(performance);
  performance.now = () => now() + 30_001;
  return engine.tryAgain();
}"""


def test_a_page_brought_back_from_a_snapshot_greets_the_house_again(tablet: Tablet, stand_in: StandIn):
    tablet.until(state="quiet")
    before = stand_in.asked("/tablet/hello")

    tablet.page.evaluate(RESTORED)

    wait_until(lambda: stand_in.asked("/tablet/hello") > before, "a greeting")


def test_a_lock_in_a_frozen_tabs_hand_is_waited_for_half_a_minute_and_no_longer(tablet: Tablet, stand_in: StandIn):
    tablet.until(state="quiet")
    tablet.page.evaluate(HELD_FOR_EVER, HOUSE)
    tablet.record()
    tablet.page.evaluate("engine.tryAgain()")
    assert stand_in.batches == []

    tablet.page.evaluate(HALF_A_MINUTE_LATER)

    tablet.until(unsent=0)
    assert [event["seq"] for event in stand_in.stored.values()] == [1]


def test_one_module_of_the_page_asks_the_network_and_no_worker_of_its_own_is_started():
    """A worker's request goes past the service worker in another engine, and would fail without network."""
    scripts = sorted((folder("static") / "js" / "tablet").rglob("*.js"))

    asking = [path.name for path in scripts if re.search(r"\b(fetch|XMLHttpRequest|sendBeacon)\(", path.read_text())]
    starting = [path.name for path in scripts if re.search(r"\bnew (Shared)?Worker\(", path.read_text())]

    assert (asking, starting) == (["wire.js"], [])
