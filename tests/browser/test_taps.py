"""A tap does what was under the finger when it came down: real screens in real Chromium."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from .a_round import BOOK
from .at_the_bedside import Bedside

COUNT_FRAMES = """() => {
  window.frames_drawn = 0;
  const count = changes => { for (const {addedNodes} of changes) window.frames_drawn += addedNodes.length; };
  new MutationObserver(count).observe(document.querySelector("#tablet"), {childList: true});
}"""


@pytest.fixture
def at_the_arm(bedside: Bedside) -> Bedside:
    """Thandi's arm is chosen; the tourniquet comes next."""
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.main("questions")
    bedside.main("arms")
    bedside.main("look_for_vein")
    return bedside


def test_a_tap_counts_though_a_clock_passes_its_mark_under_the_finger(at_the_arm: Bedside) -> None:
    page = at_the_arm.page
    at_the_arm.main()
    page.locator('.main[data-look="panel"]').hover()
    at_the_arm.skip(BOOK.value("tourniquet_ready_s") - 2)
    page.mouse.down()
    page.wait_for_selector('.strap[data-kind="tourniquet"][data-tone="act"]')
    page.mouse.up()
    at_the_arm.wait("clean")


def test_what_this_tablet_saved_is_drawn_once_and_not_again_when_it_comes_back_from_the_store(
    at_the_arm: Bedside,
) -> None:
    page = at_the_arm.page
    page.evaluate(COUNT_FRAMES)
    at_the_arm.main()
    page.wait_for_selector('.main[data-look="panel"]')
    expect(page.locator(".head-state")).to_contain_text("all sent")
    assert page.evaluate("frames_drawn") == 1
