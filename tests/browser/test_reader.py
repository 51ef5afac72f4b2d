"""A hand-held reader is heard without a field in focus, and its keys press nothing by accident."""

from __future__ import annotations

import pytest

from .hand_reader import press_keys
from .tablet import Tablet

BURST_MS = 5
BY_HAND_MS = 150

PAGE = """() => {
  document.body.replaceChildren();
  for (const tag of ["input", "button"]) {
    const element = document.createElement(tag);
    element.id = tag;
    element.textContent = "Needle in";
    document.body.append(element);
  }
  window.heard = { scans: [], keys: [], clicks: 0 };
  document.getElementById("button").addEventListener("click", () => { heard.clicks += 1; });
  window.endScan = engine.onScan(text => heard.scans.push(text));
  engine.onKey(key => heard.keys.push(key));
}"""


@pytest.fixture
def desk(tablet: Tablet) -> Tablet:
    """A page with a field, a button, and somebody who waits for scans and for single keys."""
    tablet.page.evaluate(PAGE)
    return tablet


AT_ONCE = """text => {
  for (const character of text) {
    const key = character === "↵" ? "Enter" : character;
    document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
  }
}"""
"""A burst within one turn of the page, so that no timer can come between."""


def heard(tablet: Tablet) -> dict:
    return tablet.page.evaluate("heard")


def test_a_scan_arrives_whole_with_nothing_in_focus(desk: Tablet):
    press_keys(desk.page, "1000000017↵", BURST_MS)

    assert heard(desk)["scans"] == ["1000000017"]


def test_no_key_of_a_scan_is_a_shortcut(desk: Tablet):
    desk.page.evaluate(AT_ONCE, "1000000017↵")
    press_keys(desk.page, "n", BY_HAND_MS)

    desk.page.wait_for_function("() => heard.keys.includes('n')")
    assert heard(desk) == {"scans": ["1000000017"], "keys": ["n"], "clicks": 0}


def test_a_scan_presses_no_button_that_has_the_focus(desk: Tablet):
    desk.page.focus("#button")
    press_keys(desk.page, "1000000017↵", BURST_MS)

    assert heard(desk)["scans"] == ["1000000017"]
    assert heard(desk)["clicks"] == 0


def test_enter_by_hand_still_presses_the_button(desk: Tablet):
    desk.page.focus("#button")
    press_keys(desk.page, "↵", BY_HAND_MS)

    assert heard(desk)["clicks"] == 1


def test_typing_into_a_field_is_left_alone(desk: Tablet):
    desk.page.focus("#input")
    press_keys(desk.page, "09031951↵", BY_HAND_MS)

    assert heard(desk) == {"scans": [], "keys": [], "clicks": 0}
    assert desk.page.input_value("#input") == "09031951"


def test_a_scan_leaves_no_trace_in_the_field_that_had_the_focus(desk: Tablet):
    desk.page.fill("#input", "0903")
    desk.page.focus("#input")
    press_keys(desk.page, "1000000017↵", BURST_MS)

    assert heard(desk)["scans"] == ["1000000017"]
    assert desk.page.input_value("#input") == "0903"


def test_a_single_key_outside_fields_is_a_shortcut(desk: Tablet):
    press_keys(desk.page, "n", BY_HAND_MS)

    desk.page.wait_for_function("() => heard.keys.length")
    assert heard(desk) == {"scans": [], "keys": ["n"], "clicks": 0}


def test_the_newest_listener_gets_the_scan_and_gives_it_back(desk: Tablet):
    desk.page.evaluate("void (window.newest = [], window.endNewest = engine.onScan(text => newest.push(text)))")
    press_keys(desk.page, "1000000017↵", BURST_MS)
    desk.page.evaluate("endNewest()")
    press_keys(desk.page, "1000000024↵", BURST_MS)

    assert desk.page.evaluate("newest") == ["1000000017"]
    assert heard(desk)["scans"] == ["1000000024"]


def test_without_a_listener_a_scan_is_typed_like_anything_else(desk: Tablet):
    desk.page.evaluate("endScan()")
    desk.page.focus("#input")
    press_keys(desk.page, "1000000017↵", BURST_MS)

    assert desk.page.input_value("#input") == "1000000017"
