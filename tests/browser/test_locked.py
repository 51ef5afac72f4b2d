"""The lock as a person meets it: nothing of a patient on an unattended tablet, and nobody left with a tourniquet on."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from bedside.settings import folder

from .at_the_bedside import Bedside
from .locking import PIN, come_in, screens, type_digits
from .stand_in import StandIn
from .waiting import wait_until

UNATTENDED = "seconds => { window.skipped += seconds * 1000; }"
FITTING = (folder("static").parent / "tests" / "browser" / "fitting.js").read_text()


@pytest.fixture
def bedside(profile: BrowserContext, house: StandIn) -> Iterator[Bedside]:
    held = Bedside(profile, house)
    yield held
    assert held.problems == []


def left_alone(bedside: Bedside, seconds: float) -> None:
    bedside.page.evaluate(UNATTENDED, seconds)


def told(house: StandIn, kind: str) -> list[dict[str, Any]]:
    """The events of this kind that came home."""
    bodies = [json.loads(event["body"]) for event in house.stored.values()]
    return [body for body in bodies if body["kind"] == kind]


def while_locked(house: StandIn, kind: str) -> list[dict[str, Any]]:
    return [body for body in told(house, kind) if body.get("locked")]


def fits(bedside: Bedside) -> None:
    for light in ("day", "night"):
        bedside.page.evaluate("light => { document.documentElement.className = light; }", light)
        assert bedside.page.evaluate(FITTING) == [], bedside.screen


def test_T_automatic_logoff_after_two_minutes_no_patient_is_in_the_page(bedside: Bedside):
    bedside.to_the_round().to_the_door("kaarina")
    assert "Kaarina" in bedside.page.content()

    left_alone(bedside, 121)
    bedside.wait("unlock")

    page = bedside.page.content() + bedside.page.title() + bedside.page.url
    for name in ("Kaarina", "Ojala", "40031977", "1951", "Maximiliana", "Thandi", "Lindqvist"):
        assert name not in page
    fits(bedside)


def test_T_2_2_1_it_warns_twenty_seconds_before_and_any_touch_keeps_it_open(bedside: Bedside):
    bedside.to_the_round()

    left_alone(bedside, 99)
    assert bedside.page.locator(".lock-warning").is_hidden()
    left_alone(bedside, 3)
    bedside.page.wait_for_selector(".lock-warning:not([hidden])")
    fits(bedside)
    bedside.tap("Stay")

    left_alone(bedside, 99)
    assert bedside.screen == "round"


def test_T_2_2_5_a_half_filled_note_is_back_after_unlocking(bedside: Bedside):
    bedside.to_the_round().to_the_door("bo")
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Faint", "first_aid")
    bedside.page.locator("button.main", has_text="Safe now").click()
    bedside.wait("note")
    bedside.page.get_by_label("What happened").fill("Pale, slid from the chair.")

    left_alone(bedside, 121)
    bedside.wait("unlock")
    assert "Pale" not in bedside.page.content()
    come_in(bedside.page)

    bedside.wait("note")
    assert bedside.page.get_by_label("What happened").input_value() == "Pale, slid from the chair."


def with_a_tourniquet_on(bedside: Bedside) -> None:
    bedside.to_the_round().to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")


def test_with_a_needle_in_it_locks_after_ten_minutes_and_clocks_off_out_and_wrong_need_no_pin(
    bedside: Bedside, house: StandIn
):
    with_a_tourniquet_on(bedside)

    left_alone(bedside, 570)
    bedside.page.wait_for_selector(".clocks[data-tone=stop]")
    assert bedside.screen == "draw"
    left_alone(bedside, 31)
    bedside.wait("unlock")
    assert "Thandi" not in bedside.page.content()
    assert "tourniquet" in bedside.page.locator(".clocks").inner_text()
    fits(bedside)

    bedside.page.reload()  # or a dead battery
    bedside.wait("unlock")
    assert "tourniquet" in bedside.page.locator(".clocks").inner_text()

    bedside.tap("Something is wrong", "locked_wrong")
    fits(bedside)
    bedside.tap("Faint", "locked_aid")
    fits(bedside)
    wait_until(lambda: told(house, "incident_opened"), "the event came home")
    assert told(house, "incident_opened")[0]["data"] == {"kind": "faint"}
    bedside.main("unlock")

    bedside.tap("Tourniquet off")
    (off,) = wait_until(lambda: while_locked(house, "tourniquet_off"), "the event came home")
    bedside.tap("Needle out")
    wait_until(lambda: while_locked(house, "pressure_on"), "the event came home")
    assert (off["by"], off["visit"], off["locked"]) == ("p-ines", "v-thandi", True)
    assert "pressure" in bedside.page.locator(".clocks").inner_text()
    assert "Thandi" not in bedside.page.content()

    come_in(bedside.page)
    assert bedside.page.locator(".strap[data-kind=tourniquet]").count() == 0
    assert bedside.page.locator(".strap[data-kind=pressure]").count() == 1


def test_T_3_3_8_a_wrong_pin_says_how_many_tries_are_left_and_the_right_one_can_be_pasted(bedside: Bedside):
    bedside.to_the_round()
    left_alone(bedside, 121)
    bedside.wait("unlock")
    type_digits(bedside.page, "111222", "text=9 tries are left")
    fits(bedside)
    box = bedside.page.locator(".digits-box")

    assert (box.get_attribute("type"), box.get_attribute("autocomplete")) == ("password", "current-password")
    box.evaluate(
        """(box, pin) => {
      const data = new DataTransfer();
      data.setData("text/plain", pin);
      const paste = new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true });
      if (box.dispatchEvent(paste)) box.value = pin;
    }""",
        PIN,
    )
    bedside.page.locator("button.main").click()

    bedside.wait("round")


def test_the_first_screens_of_a_new_tablet_fit(bedside: Bedside, house: StandIn):
    bedside.page.goto(house.url)
    bedside.wait("enrol")
    fits(bedside)
    type_digits(bedside.page, "2468 1357", '.frame[data-screen="choose_pin"]')
    fits(bedside)
    type_digits(bedside.page, "123456", "text=Too easy")
    type_digits(bedside.page, PIN, '.frame[data-screen="pin_again"]')
    fits(bedside)
    type_digits(bedside.page, "739216", "text=not the same")


def test_a_sign_in_of_an_hour_ago_gives_nobody_a_new_pin(bedside: Bedside, house: StandIn):
    house.fresh_sign_in = False
    bedside.page.goto(house.url)
    bedside.wait("enrol")

    type_digits(bedside.page, "2468 1357", '.frame[data-screen="sign_in_first"]')

    fits(bedside)


def test_a_forgotten_pin_loses_nothing_that_was_recorded(bedside: Bedside, house: StandIn):
    bedside.to_the_round().to_the_door("bo")
    bedside.main("birth_date")
    house.faults.signed_in = False
    bedside.page.evaluate(UNATTENDED, 121)
    bedside.wait("unlock")
    before = len(house.stored)
    house.faults.signed_in = True  # signed in again, with the password

    bedside.page.evaluate("dispatchEvent(new Event('focus'))")
    bedside.tap("I forgot my PIN", "choose_pin")
    type_digits(bedside.page, "846203", screens("pin_again"))
    type_digits(bedside.page, "846203", screens("cautions"))

    wait_until(lambda: len(house.stored) >= before and "all sent" in bedside.text, "everything came home")
    assert [body["visit"] for body in told(house, "arrived")] == ["v-bo"]


def test_handed_back_the_tablet_says_no_patients_and_so_many_unsent(bedside: Bedside, house: StandIn):
    bedside.to_the_round()
    bedside.page.locator(".head-state").click()
    bedside.wait("this_tablet")
    bedside.tap("Hand this tablet back", "hand_back")
    left = bedside.page.locator('.lines[data-look="stop"]')
    expect(left).to_contain_text("Nobody has them once this tablet is back, until the next round")
    assert f"room {bedside.visit('bo')['room']}, bed {bedside.visit('bo')['bed']}" in left.inner_text()
    fits(bedside)

    bedside.main()

    bedside.page.wait_for_selector("text=choose a PIN")
    wait_until(lambda: house.handed_back == [{"unsent": "0"}], "the house was told")


def test_out_of_use_the_tablet_says_so_and_takes_no_visit_away_that_has_begun(bedside: Bedside, house: StandIn):
    bedside.to_the_round().to_the_door("bo")
    bedside.main("birth_date")
    house.revoked = True

    bedside.page.evaluate("dispatchEvent(new Event('focus'))")
    expect(bedside.page.locator(".head-state")).to_contain_text("out of use")
    assert bedside.screen == "birth_date"
    left_alone(bedside, 121)
    bedside.wait("unlock")
    bedside.page.evaluate("dispatchEvent(new Event('focus'))")

    bedside.wait("out_of_use")
    fits(bedside)


def test_without_the_house_nobody_is_sent_to_a_page_that_is_not_there(bedside: Bedside, house: StandIn):
    bedside.to_the_round()
    left_alone(bedside, 121)
    bedside.wait("unlock")
    house.stop()
    house.fresh_sign_in = False

    bedside.page.get_by_role("button", name="Somebody else").click()

    bedside.page.wait_for_selector("text=nobody can sign in now")
    fits(bedside)
    come_in(bedside.page)


def test_nobody_signed_in_the_tablet_sends_and_says_what_waits_for_a_sign_in(bedside: Bedside, house: StandIn):
    bedside.to_the_round()
    house.person = None  # the session has ended; the tablet signs
    bedside.page.evaluate("dispatchEvent(new Event('focus'))")
    expect(bedside.page.locator(".head-state")).to_contain_text("all sent, sign in")

    bedside.to_the_door("bo")
    bedside.main("birth_date")

    wait_until(lambda: told(house, "arrived"), "the event came home")
    bedside.page.locator(".head-state").click()
    bedside.wait("this_tablet")
    assert "what you record is sent, new orders wait for a sign-in" in bedside.text
    fits(bedside)
