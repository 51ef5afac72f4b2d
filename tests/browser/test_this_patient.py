"""What the bedside asks and offers because of this very patient and these very tubes: real screens in real Chromium.

Thandi's bed is given to whoever the test needs there.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from bedside.settings import folder

from .a_round import a_round
from .at_the_bedside import Bedside
from .stand_in import StandIn

PEOPLE = {
    "p-ines": {"name": "Ines Baptista", "short": "Ines B.", "initials": "IB", "role": "phlebotomist"},
    "p-maren": {"name": "Maren Solberg", "short": "Maren S.", "initials": "MS", "role": "charge_nurse"},
}
KAARINAS = ("citrate", "serum-gel", "heparin", "edta")


@pytest.fixture
def house() -> Iterator[StandIn]:
    house = StandIn(folder("static"))
    house.packet = a_round() | {"people": PEOPLE}
    house.start()
    yield house
    house.stop()


@pytest.fixture
def at_the_door(screens_profile: BrowserContext, house: StandIn) -> Iterator[Callable[..., Bedside]]:
    """Opens the app at somebody's door, after their visit was changed."""
    opened: list[Bedside] = []

    def go(who: str, patient: dict[str, Any] | None = None, **changes: Any) -> Bedside:
        assert house.packet
        visit = next(each for each in house.packet["visits"] if each["id"] == f"v-{who}")
        visit |= changes
        visit["patient"] |= patient or {}
        bedside = Bedside(screens_profile, house)
        opened.append(bedside)
        bedside.to_the_round().to_the_door(who)
        return bedside

    yield go
    assert [bedside.problems for bedside in opened] == [[]] * len(opened)


def all_sent(bedside: Bedside) -> list[dict[str, Any]]:
    expect(bedside.page.locator(".head-state")).to_contain_text("all sent")
    events = sorted(bedside.house.stored.values(), key=lambda event: event["seq"])
    return [json.loads(event["body"]) for event in events]


def of_kind(bedside: Bedside, kind: str) -> list[dict[str, Any]]:
    return [event["data"] for event in all_sent(bedside) if event["kind"] == kind]


def a_child(**more: Any) -> dict[str, Any]:
    return {"birth_date": "2024-02-10", "weight_kg": 11.5, "drawn_24h_ml": 1.5, **more}


def father_speaks(bedside: Bedside) -> None:
    bedside.main("birth_date")
    expect(bedside.page.locator("#tablet")).to_contain_text("When somebody else says it for the child: first")
    bedside.tap("Cannot say it", "voucher")
    expect(bedside.page.locator("button.main")).to_contain_text("still missing: name, who they are")
    bedside.page.get_by_label("Name of that person").fill("Sipho Mbeki")
    bedside.tap("father")
    bedside.main("birth_date")
    bedside.keys("10022024")
    bedside.main("heard_name")
    bedside.main("band")
    bedside.scan("40031300|2024-02-10", "consent")


def vein_found(bedside: Bedside) -> None:
    bedside.main("look_for_vein")
    bedside.main()
    bedside.page.wait_for_selector('.main[data-look="panel"]')
    bedside.main("clean")
    bedside.main("drying")
    bedside.skip(31)
    bedside.page.wait_for_selector('.main[data-look="act"]')
    bedside.main("needle")


# ---- who agrees


def test_the_father_who_spoke_for_the_child_is_the_one_who_agrees(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi", a_child())
    father_speaks(bedside)
    expect(bedside.page.locator("button.main")).to_contain_text("Sipho Mbeki agrees")
    bedside.main("questions")

    (consent,) = of_kind(bedside, "asked")
    assert consent == {"question": "consent", "answer": "by_other", "who": "Sipho Mbeki, father"}
    assert "Ask Sipho Mbeki" in bedside.page.locator(".sentence").inner_text()


def test_a_minor_who_speaks_for_themselves_still_needs_somebody_named_to_agree(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi", a_child(birth_date="2010-02-10", weight_kg=50))
    bedside.settle_identity("thandi")
    main = bedside.page.locator("button.main")
    expect(main).to_be_disabled()
    expect(main).to_contain_text("still missing: name, who they are to the patient")
    bedside.page.get_by_label("Name of that person").fill("Zola Mbeki")
    bedside.tap("mother")
    bedside.main("questions")

    assert of_kind(bedside, "asked")[0]["who"] == "Zola Mbeki, mother"


def test_a_grown_patient_answers_alone(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.main("questions")

    assert of_kind(bedside, "asked") == [{"question": "consent", "answer": "yes"}]


# ---- how much


def test_a_child_s_age_weight_and_allowance_stand_at_the_door_and_at_the_needle(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi", a_child(), limits={"max_draw_ml": 10.0}, needle="winged")
    for fact in ("11.5 kg", "at most 10 mL now", "1.5 mL drawn before"):
        assert fact in bedside.text
    father_speaks(bedside)
    bedside.main("questions")
    bedside.main("arms")
    vein_found(bedside)

    assert "At most 10 mL now" in bedside.text
    bedside.main("draw")
    assert of_kind(bedside, "needle_in") == [{"kind": "winged", "gauge": "23"}]


def test_a_tube_over_the_limit_is_filled_with_the_reason_of_whoever_allowed_it(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi", limits={"max_draw_ml": 1.0})
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    bedside.tap("Allowed, with a reason", "held")
    bedside.tap("Nurse or doctor agreed", "draw")

    (filled,) = [event for event in all_sent(bedside) if event["kind"] == "tube_filled"]
    (ahead,) = of_kind(bedside, "went_ahead")
    assert (ahead["finding"], ahead["reason"]) == ("volume-over-limit", "Nurse or doctor agreed")
    assert ahead["event"] in bedside.house.stored
    assert json.loads(bedside.house.stored[ahead["event"]]["body"]) == filled


def test_a_tube_that_stayed_short_is_one_tap_and_carries_its_volume(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")
    bedside.tap("½")
    bedside.page.locator("button.main", has_text="Tube 2 is full").wait_for()
    assert "less than 90 %" in bedside.page.locator(".aside").inner_text()
    bedside.tap("mL", "short")
    for key in "3.2":
        bedside.page.locator(f'.key[data-key="{key}"]').click()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 3 is full").click()
    bedside.page.locator("button.main", has_text="Tube 4 is full").wait_for()

    assert [tube["volume_ml"] for tube in of_kind(bedside, "tube_filled")] == [1.4, 3.2, None]


def test_what_is_put_in_afterwards_may_be_short_too(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    bedside.tap("Tourniquet off")
    bedside.tap("Needle out", "afterwards")
    bedside.page.locator(".slot").first.click()
    bedside.tap("¼")
    bedside.main("mix")

    (filled,) = of_kind(bedside, "tube_filled")
    assert filled["volume_ml"] < 2
    assert filled["after"] is True


# ---- the draw


def test_no_blood_flows_is_there_after_the_first_tube_and_keeps_it(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.page.locator("button.main", has_text="Tube 2 is full").wait_for()
    bedside.tap("No blood flows", "no_flow")
    assert "1 tube filled so far" in bedside.text
    bedside.main("mix")

    assert of_kind(bedside, "attempt_ended") == [{"outcome": "no_flow"}]


def test_a_guard_that_did_not_click_is_said_where_the_needle_comes_out(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.page.locator("button.main", has_text="Tourniquet off").click()
    assert not bedside.page.locator(".beside", has_text="Tourniquet off").count()
    bedside.tap("Out, but the guard did not click", "mix")

    assert of_kind(bedside, "needle_out") == [{"guard_on": False}]


def test_a_vein_of_the_hand_gets_a_winged_set_and_citrate_a_discard_before_it(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.main("questions")
    bedside.main("arms")
    bedside.page.locator(".tile", has_text="back of the hand").click()
    vein_found(bedside)
    bedside.main("draw")
    assert "discard" in bedside.page.locator(".sentence").inner_text()
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.page.locator("button.main", has_text="Tube 2 is full").click()
    bedside.page.locator("button.main", has_text="Tube 3 is full").wait_for()

    assert of_kind(bedside, "tube_added")[0]["kind"] == "discard"
    filled = [tube["tube"] for tube in of_kind(bedside, "tube_filled")]
    assert filled == [of_kind(bedside, "tube_added")[0]["tube"], "t-kaarina-1"]


def test_a_culture_goes_into_bottles_each_to_its_own_volume(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("maximiliana")
    bedside.settle_identity("maximiliana")
    bedside.main("questions")
    bedside.main("arms")
    bedside.main("look_for_vein")
    bedside.tap("Vein seen without it", "clean")
    assert "Bottle tops: wipe with 70 % isopropyl" in bedside.text
    bedside.main("drying")
    bedside.skip(31)
    bedside.page.wait_for_selector('.main[data-look="act"]')
    bedside.main("needle")
    bedside.main("draw")
    assert "Fill bottle 1, aerobic bottle" in bedside.page.locator(".sentence").inner_text()
    bedside.page.locator("button.main", has_text="Bottle 1 is full").click()
    bedside.page.locator("button.main", has_text="Bottle 2 is full").wait_for()

    drawn = bedside.visit("maximiliana")["tubes"][0]["draw_ml"]
    assert of_kind(bedside, "tube_filled")[0]["volume_ml"] == drawn


# ---- before going in


def test_ice_is_asked_for_at_the_door_and_on_the_list_of_what_to_carry(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi")
    expect(bedside.page.locator("button.main")).to_contain_text("with ice slurry")
    bedside.tap("Not with me: back", "round")
    bedside.tap("Supplies", "supplies")

    for thing in ("cups of ice slurry", "isolation gear: contact", "culture kit", "winged sets", "sharps box"):
        assert thing in bedside.text


def test_the_nurse_who_was_told_of_a_missing_band_is_named(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi")
    bedside.main("birth_date")
    bedside.keys(bedside.born("thandi"))
    bedside.main("heard_name")
    bedside.main("band")
    bedside.tap("No band", "no_band")
    bedside.page.locator(".tile", has_text="Maren Solberg").click()
    bedside.main("band")

    (put_right,) = of_kind(bedside, "corrected")
    assert put_right["data"]["told"]["name"] == "Maren Solberg"
    assert put_right["data"]["told"]["role"] == "charge nurse"
    bedside.scan(bedside.band("thandi"), "consent")


def test_a_band_read_by_mistake_is_read_again_before_it_ends_the_visit(at_the_door: Callable[..., Bedside]):
    bedside = at_the_door("thandi")
    bedside.main("birth_date")
    bedside.keys(bedside.born("thandi"))
    bedside.main("heard_name")
    bedside.main("band")
    bedside.scan(bedside.band("bo"), "identity_stop")
    expect(bedside.page.locator("button.main")).to_contain_text("Read the band again")
    bedside.main("band")
    bedside.scan(bedside.band("bo"), "identity_stop")

    expect(bedside.page.locator("button.main")).to_contain_text("End the visit")


@pytest.mark.parametrize(("device", "shown"), [("light", "day"), ("dark", "night")])
def test_a_new_tablet_is_as_light_as_the_device_until_somebody_chooses(
    browser: Browser, house: StandIn, device: str, shown: str
):
    other = {"day": "Night", "night": "Day"}[shown]
    context = browser.new_context(viewport={"width": 820, "height": 1180}, color_scheme=device)
    bedside = Bedside(context, house).to_the_round()
    assert bedside.page.locator("html").get_attribute("class") == shown
    bedside.page.locator(".head-state").click()
    bedside.wait("this_tablet")
    bedside.page.get_by_role("button", name=other).click()
    bedside.reload()
    bedside.wait("this_tablet")

    assert bedside.page.locator("html").get_attribute("class") == other.lower()
    context.close()
