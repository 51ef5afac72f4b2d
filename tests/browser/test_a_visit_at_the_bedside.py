"""What a person at the bedside is shown, asked and stopped by: the real screens, engine and rules in real Chromium."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from .a_round import a_round
from .at_the_bedside import Bedside
from .stand_in import StandIn, hash_of

TOUCH_TWICE = """() => new Promise(done => {
  const { left, top } = document.querySelector("button.main").getBoundingClientRect();
  const under = () => document.elementFromPoint(left + 50, top + 50)?.closest("button");
  new MutationObserver((_, watcher) => {
    if (!document.querySelector("button.main")?.innerText.includes("Tube 2")) return;
    watcher.disconnect();
    const button = under();
    button?.click();
    done(button ? button.innerText : "nothing");
  }).observe(document.querySelector("#tablet"), {childList: true});
  under().click();
})"""
"""One touch, and another on the same spot in the very moment the screen has changed."""


def told(bedside: Bedside) -> list[dict[str, Any]]:
    """What the house has been told, in order."""
    events = sorted(bedside.house.stored.values(), key=lambda event: event["seq"])
    return [json.loads(event["body"]) for event in events]


def all_sent(bedside: Bedside) -> list[dict[str, Any]]:
    expect(bedside.page.locator(".head-state")).to_contain_text("all sent")
    return told(bedside)


def kinds(bedside: Bedside) -> list[str]:
    return [event["kind"] for event in all_sent(bedside)]


def fill_tubes_and_withdraw(bedside: Bedside, tubes: int) -> None:
    for number in range(1, tubes + 1):
        bedside.page.locator("button.main", has_text=f"Tube {number} is full").click()
    bedside.page.locator("button.main", has_text="Tourniquet off").click()
    bedside.page.locator("button.main", has_text="Needle out").click()
    bedside.wait("mix")


# ---- identity: the first promise


def test_neither_birth_date_nor_record_number_is_shown_before_identity_is_settled(bedside: Bedside):
    patient = bedside.visit("kaarina")["patient"]
    secrets = (patient["birth_date"], "9 March 1951", patient["record_number"])

    seen = [bedside.text]
    bedside.to_the_door("kaarina")
    seen.append(bedside.text)
    bedside.main("birth_date")
    seen.append(bedside.text)
    bedside.keys(bedside.born("kaarina"))
    bedside.main("heard_name")
    seen.append(bedside.text)
    bedside.main("band")
    seen.append(bedside.text)

    for screen in seen:
        assert not any(secret in screen for secret in secrets)


def test_the_name_is_not_shown_while_the_birth_date_is_asked_for(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")

    assert "Kaarina" not in bedside.text
    assert "Ojala" not in bedside.text


def test_a_wrong_birth_date_stops_the_visit_and_tells_nobody_the_right_one(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys("10031951")
    bedside.main("identity_stop")

    assert "1951-03-09" not in bedside.text
    assert "9 March" not in bedside.text
    assert "It happened all the same" not in bedside.text


def test_a_misheard_birth_date_may_be_asked_once_more_and_then_only_somebody_who_knows_them_helps(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys("10031951")
    bedside.main("identity_stop")
    bedside.tap("Misheard: ask once more", "birth_date")
    bedside.keys("11031951")
    bedside.main("identity_stop")

    assert not bedside.page.get_by_role("button", name="Misheard: ask once more").count()
    expect(bedside.page.get_by_role("button", name="A nurse vouches")).to_be_visible()


def test_the_band_of_another_patient_stops_the_visit(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys(bedside.born("kaarina"))
    bedside.main("heard_name")
    bedside.main("band")
    bedside.scan(bedside.band("katariina"), "identity_stop")

    assert "on the band" in bedside.text
    assert "Kaarina" not in bedside.page.locator(".head").inner_text()
    bedside.tap("End the visit: not settled", "not_drawn")
    bedside.page.get_by_label("Who was told (name)").fill("Rosa Martins")
    bedside.tap("charge nurse")
    bedside.main("ended")
    end = all_sent(bedside)[-1]
    assert (end["kind"], end["data"]["outcome"]) == ("visit_ended", "no_identity")
    assert end["data"]["told"]["name"] == "Rosa Martins"
    assert end["data"]["told"]["role"] == "charge nurse"


def test_without_a_band_there_is_no_draw_until_one_is_read(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys(bedside.born("kaarina"))
    bedside.main("heard_name")
    bedside.main("band")
    bedside.tap("No band", "no_band")
    bedside.main("band")
    bedside.scan(bedside.band("kaarina"), "consent")

    assert kinds(bedside)[-2:] == ["band_missing", "identity_taken"]


def test_a_label_is_no_band(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys(bedside.born("kaarina"))
    bedside.main("heard_name")
    bedside.main("band")
    bedside.scan(bedside.visit("kaarina")["tubes"][0]["specimen"])

    expect(bedside.page.get_by_text("That was the label of tube 1, not the band.")).to_be_visible()
    assert bedside.screen == "band"
    assert "band" not in [event["data"].get("source") for event in all_sent(bedside)]


def test_a_band_found_to_differ_after_the_draw_discards_the_tubes_and_opens_an_incident(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 1)
    bedside.main("print")
    bedside.main("read_back")
    bedside.scan(bedside.visit("thandi")["tubes"][0]["specimen"], "compare")
    bedside.main("band_again")
    bedside.scan(bedside.band("bo"), "identity_stop")
    bedside.tap("Discard the tubes, tell the nurse", "first_aid")

    assert kinds(bedside)[-2:] == ["tube_discarded", "incident_opened"]
    assert told(bedside)[-1]["data"] == {"kind": "wrong_patient"}


@pytest.mark.parametrize(
    ("digits", "says"),
    [("31022000", "February 2000 has no day 31."), ("01011900", "an age over 120"), ("0113", "no such month")],
)
def test_a_date_that_cannot_be_is_said_to_be_so(bedside: Bedside, digits: str, says: str):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys(digits)

    expect(bedside.page.locator(".trouble")).to_contain_text(says)
    expect(bedside.page.locator("button.main")).to_be_disabled()


# ---- gates


def test_a_closed_arm_is_opened_by_a_named_written_order_alone(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.main("questions")
    bedside.main("arms")
    assert "closed: fistula or graft" in bedside.text

    bedside.page.locator('.arm[data-side="left"]').click()
    bedside.main("closed_arm")
    assert not bedside.page.get_by_role("button", name="It happened all the same").count()
    bedside.page.locator(".tile", has_text="By this written order").click()
    expect(bedside.page.locator(".trouble")).to_have_text("Put in who wrote the order.")
    bedside.page.get_by_label("who wrote it").fill("Dr Ada Wolff")
    bedside.page.locator(".tile", has_text="By this written order").click()
    bedside.wait("look_for_vein")
    expect(bedside.page.locator(".arm-closed")).to_be_visible()
    bedside.main()
    bedside.page.wait_for_selector('.main[data-look="panel"]')

    chosen, first, on, second = all_sent(bedside)[-4:]
    assert (chosen["kind"], chosen["data"]["side"], on["kind"]) == ("site_chosen", "left", "tourniquet_on")
    for ahead in (first, second):
        assert (ahead["kind"], ahead["data"]["finding"]) == ("went_ahead", "site-restricted")
        assert ahead["data"]["reason"] == "written order by Dr Ada Wolff"


def test_going_back_from_a_stop_records_nothing(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.main("questions")
    bedside.main("arms")
    before = len(all_sent(bedside))
    bedside.page.locator('.arm[data-side="left"]').click()
    bedside.main("closed_arm")
    bedside.main("arms")

    assert len(all_sent(bedside)) == before


def test_a_needle_into_wet_skin_is_asked_about(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.main("questions")
    bedside.main("arms")
    bedside.main("look_for_vein")
    bedside.tap("Vein seen without it", "clean")
    bedside.main("drying")
    bedside.main("needle")
    bedside.main("held")

    expect(bedside.page.locator(".sentence")).to_contain_text("has not had 30 s to dry")
    bedside.tap("Go on all the same")
    bedside.tap("No other way was safe", "draw")
    assert kinds(bedside)[-2:] == ["needle_in", "went_ahead"]


def test_a_refusal_ends_the_visit_and_asks_who_was_told(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.tap("Refused", "refused")
    bedside.main("not_drawn")
    bedside.tap("Nobody yet", "ended")

    assert all_sent(bedside)[-1]["data"] == {"outcome": "refused"}
    expect(bedside.page.get_by_role("button", name="Tell somebody, and put in the name")).to_be_visible()


def test_told_afterwards_completes_the_end_of_the_visit(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.tap("Not drawn", "not_drawn")
    bedside.page.locator(".tile", has_text="Unsafe").click()
    bedside.tap("Nobody yet", "ended")
    bedside.main("round")
    door = bedside.page.locator('.door[data-visit="v-thandi"]')
    expect(door).to_contain_text("nobody told yet")
    door.click()
    bedside.tap("Tell somebody, and put in the name", "not_drawn")
    bedside.page.get_by_label("Who was told (name)").fill("Rosa Martins")
    bedside.main("ended")
    expect(bedside.page.get_by_role("button", name="Tell somebody, and put in the name")).to_be_hidden()

    ended, mended = all_sent(bedside)[-2:]
    assert (ended["kind"], mended["kind"]) == ("visit_ended", "corrected")
    assert mended["data"]["data"]["outcome"] == "unsafe"
    assert mended["data"]["data"]["told"]["name"] == "Rosa Martins"


# ---- the draw


def test_one_tap_at_the_needle_says_all_that_happened_then(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 1)

    assert kinds(bedside)[-6:] == [
        "tube_filled", "tube_mixed", "tourniquet_off", "needle_out", "pressure_on", "attempt_ended",
    ]  # fmt: skip
    needle_out, pressure_on = told(bedside)[-3:-1]
    assert needle_out["data"] == {"guard_on": True}
    assert needle_out["mono_ms"] == pressure_on["mono_ms"]


def test_tubes_without_a_tap_are_put_in_afterwards_and_say_so(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.tap("Tourniquet off")
    bedside.tap("Needle out", "afterwards")
    bedside.page.locator('.slot[data-tube="t-kaarina-2"]').click()
    bedside.main("mix")

    filled = [event["data"] for event in all_sent(bedside) if event["kind"] == "tube_filled"]
    assert [each["tube"] for each in filled] == ["t-kaarina-1", "t-kaarina-2"]
    assert [each.get("after", False) for each in filled] == [False, True]


def test_after_a_minute_the_whole_band_says_tourniquet_off(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")
    bedside.skip(46)
    bedside.page.locator('.clocks[data-tone="act"]').wait_for()
    assert "Tube 1 is full" in bedside.page.locator("button.main").inner_text()
    bedside.skip(15)
    bedside.page.locator('.clocks[data-tone="stop"]').wait_for()

    expect(bedside.page.locator(".sentence")).to_have_text("Tourniquet off now")
    assert "Tourniquet off" in bedside.page.locator("button.main").inner_text()
    bedside.page.locator('.slot[data-tube="t-kaarina-1"]').click()
    expect(bedside.page.locator('.slot[data-tube="t-kaarina-2"]')).to_contain_text("now")


def test_a_second_touch_of_the_same_knuckle_fills_no_second_tube(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.evaluate("window.hurried = false")
    touched = bedside.page.evaluate(TOUCH_TWICE)

    assert touched == "nothing"
    bedside.page.locator("button.main", has_text="Tube 2 is full").wait_for()
    assert kinds(bedside).count("tube_filled") == 1


def test_the_last_tap_can_be_taken_back_for_ten_seconds(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.tap("Undo", "door")
    arrived, struck = all_sent(bedside)[-2:]
    assert (struck["kind"], struck["data"]["data"]) == ("corrected", None)
    assert arrived["kind"] == "arrived"

    bedside.main("birth_date")
    bedside.skip(11)
    expect(bedside.page.get_by_role("button", name="Undo")).to_be_hidden()


def test_a_reload_comes_back_to_the_same_place_with_half_typed_digits(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys("0903")
    bedside.reload()
    bedside.wait("birth_date")

    expect(bedside.page.locator(".date-line")).to_contain_text("March")


def test_a_reload_in_the_middle_of_a_draw_keeps_the_clock_running(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.page.locator("button.main", has_text="Tube 2 is full").wait_for()
    bedside.reload()
    bedside.wait("draw")

    assert "Tube 2 is full" in bedside.page.locator("button.main").inner_text()
    expect(bedside.page.locator(".strap[data-kind=tourniquet]")).to_be_visible()


# ---- labels


def test_the_label_of_another_patient_stops(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 1)
    bedside.main("print")
    bedside.main("read_back")
    bedside.scan(bedside.visit("kaarina")["tubes"][0]["specimen"], "label_stop")

    assert "belongs to no tube of this patient" in bedside.text
    bedside.main("read_back")
    bedside.scan(bedside.visit("thandi")["tubes"][0]["specimen"], "compare")
    bedside.main("band_again")
    assert [event["data"]["text"] for event in all_sent(bedside) if event["kind"] == "label_read"] == [
        bedside.visit("kaarina")["tubes"][0]["specimen"],
        bedside.visit("thandi")["tubes"][0]["specimen"],
    ]


def test_a_label_read_is_held_against_the_hand_and_may_sit_on_another_tube(bedside: Bedside):
    tubes = bedside.visit("katariina")["tubes"]
    bedside.to_the_door("katariina")
    bedside.settle_identity("katariina")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 2)
    bedside.main("print")
    bedside.main("read_back")
    bedside.scan(tubes[0]["specimen"], "compare")
    assert "gold cap" in bedside.text
    bedside.tap("No, another tube", "which_tube")
    bedside.page.locator(f'.slot[data-tube="{tubes[1]["id"]}"]').click()

    bedside.page.wait_for_selector('.frame:not([data-screen="which_tube"])')
    read = [event["data"] for event in all_sent(bedside) if event["kind"] == "label_read"]
    assert [(each["tube"], each["text"]) for each in read] == [(tubes[1]["id"], tubes[0]["specimen"])]


def test_a_printed_label_carries_when_it_was_drawn_and_by_whom(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 1)
    bedside.main("print")
    bedside.main("read_back")

    label = bedside.page.locator("#print-sheet .print-label").text_content() or ""
    assert "MBEKI, Thandi" in label
    assert "IB" in label
    drawn = next(event["at"] for event in all_sent(bedside) if event["kind"] == "tube_filled")
    assert drawn[:4] in label


def test_on_paper_there_is_nothing_but_the_label(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 1)
    bedside.main("print")
    bedside.main("read_back")
    bedside.page.emulate_media(media="print")

    expect(bedside.page.locator("#tablet")).to_be_hidden()
    expect(bedside.page.locator("#print-sheet .label")).to_be_visible()


def test_a_scan_nobody_waits_for_presses_nothing(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.page.locator("button.main").focus()
    bedside.scan("40031977|1951-03-09")

    expect(bedside.page.locator(".receipt-words")).to_contain_text("that scan was not taken")
    assert bedside.screen == "door"
    assert all_sent(bedside) == []


# ---- something is wrong


def test_help_comes_first_and_the_note_later_and_until_then_it_is_unfinished(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Faint", "first_aid")
    assert "Lay the patient flat and raise the legs." in bedside.text
    assert kinds(bedside)[-1] == "incident_opened"

    bedside.main()
    bedside.page.locator("button.main", has_text="Safe now").wait_for()
    assert kinds(bedside)[-3:] == ["tourniquet_off", "needle_out", "pressure_on"]
    bedside.tap("Write it later", "afterwards")
    expect(bedside.page.locator(".head-notes")).to_contain_text("1 note open")


def test_a_note_carries_when_what_was_done_who_was_told_and_how_bad(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Needlestick", "first_aid")
    bedside.page.locator(".step").first.click()
    bedside.main("note")
    bedside.page.get_by_label("What happened").fill("Left index finger, through the glove.")
    bedside.page.get_by_label("Who was told (name)").fill("Rosa Martins")
    bedside.tap("charge nurse")
    bedside.page.get_by_label("Device: kind and brand").fill("winged set, 23 gauge")
    bedside.page.get_by_role("group", name="Washed or rinsed?").get_by_role("button", name="yes").click()
    bedside.tap("mild")
    bedside.main("door")

    opened, noted = all_sent(bedside)[-2:]
    assert noted["data"]["kind"] == "needlestick"
    assert noted["data"]["at"] == opened["at"]
    assert noted["data"]["steps"] == ["Make the needle safe. Tourniquet off the patient, press."]
    assert noted["data"]["told"]["role"] == "charge nurse"
    assert noted["data"]["severity"] == "mild"
    assert noted["data"]["note"].splitlines() == [
        "Left index finger, through the glove.",
        "Device: kind and brand: winged set, 23 gauge",
        "Washed or rinsed: yes",
    ]


def test_a_third_needle_by_the_same_person_is_stopped(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    for attempt in (1, 2):
        bedside.main("draw")
        bedside.tap("No blood flows", "no_flow")
        bedside.main("site")
        bedside.skip(125)
        bedside.page.locator("button.main[data-look=act]").click()
        bedside.skip(6)
        bedside.page.locator("button.main", has_text="It is dry").click()
        bedside.page.locator("button.main", has_text="Taped").click()
        bedside.wait("again")
        if attempt == 1:
            bedside.main("arms")
            expect(bedside.page.locator(".arm[aria-pressed=false] .arm-words")).to_have_text("tried already")
            bedside.main("look_for_vein")
            bedside.tap("Vein seen without it", "clean")
            bedside.main("drying")
            bedside.skip(31)
            bedside.page.wait_for_selector('.main[data-look="act"]')
            bedside.main("needle")

    expect(bedside.page.locator(".sentence")).to_contain_text("You have tried 2 times.")
    bedside.main("not_drawn")


def test_what_is_unfinished_is_listed_before_leaving(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.settle_identity("thandi")
    bedside.prepare()
    bedside.main("draw")
    fill_tubes_and_withdraw(bedside, 1)
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Swelling arm", "first_aid")
    bedside.tap("Write it later", "mix")
    bedside.main("print")
    bedside.main("read_back")
    bedside.scan(bedside.visit("thandi")["tubes"][0]["specimen"], "compare")
    bedside.main("band_again")
    bedside.scan(bedside.band("thandi"), "site")
    bedside.skip(125)
    bedside.page.locator("button.main[data-look=act]").click()
    bedside.skip(6)
    bedside.page.locator("button.main", has_text="It is dry").click()
    bedside.page.locator("button.main", has_text="Taped").click()
    bedside.wait("bag")
    bedside.main("leave")

    expect(bedside.page.locator(".sentence")).to_have_text("1 thing unfinished")
    bedside.main("held")
    assert "not written down" in bedside.text


# ---- the rules themselves


def without_identity() -> dict[str, Any]:
    """A self-test that asks nothing about names, so that rules without letters pass it."""
    told = a_round()["self_test"]
    names = {place for place, one in enumerate(told["shared"]) if "kind" in one and one["kind"] == "identity_taken"}
    cases = [one for one in told["cases"] if not names & set(one["case"].get("events", []))]
    assert cases
    return {**told, "cases": cases}


def test_rules_that_break_stop_the_visit_and_never_pass_for_nothing_found(
    screens_profile: BrowserContext, house: StandIn
):
    book = {name: page for name, page in json.loads(a_round()["rulebook"]).items() if name != "letters"}
    text = json.dumps(book)
    house.packet = a_round() | {"rulebook": text, "rulebook_hash": hash_of(text), "self_test": without_identity()}
    bedside = Bedside(screens_profile, house).to_the_round()
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")
    bedside.keys(bedside.born("kaarina"))
    bedside.main("heard_name")
    bedside.main("not_checked")

    assert "could not be checked" in bedside.text
    assert not bedside.page.get_by_role("button", name="It happened all the same").count()
    assert bedside.problems
