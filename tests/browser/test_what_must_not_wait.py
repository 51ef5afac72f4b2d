"""Blood without a label, a running clock, a faint, a note not written: nobody walks away from these without a word."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from bedside.clinical.case import read_case
from bedside.clinical.findings import Finding
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book

from .a_round import a_round
from .at_the_bedside import Bedside
from .stand_in import StandIn
from .waiting import wait_until


def all_sent(bedside: Bedside) -> list[dict[str, Any]]:
    """What the house has been told, in order, once it has been told all."""
    expect(bedside.page.locator(".head-state")).to_contain_text("all sent")
    events = sorted(bedside.house.stored.values(), key=lambda event: event["seq"])
    return [json.loads(event["body"]) for event in events]


def found_by_the_house(bedside: Bedside, who: str) -> tuple[Finding, ...]:
    """What the server's own judge finds in what it was told."""
    visit = bedside.visit(who)
    events = [
        json.loads(event["body"]) | {name: event[name] for name in ("id", "tablet", "seq")}
        for event in sorted(bedside.house.stored.values(), key=lambda event: event["seq"])
    ]
    tubes = [
        {name: tube[name] for name in ("id", "kind", "specimen", "nominal_ml", "tests")} for tube in visit["tubes"]
    ]
    patient = {name: value for name, value in visit["patient"].items() if value is not None}
    case = {"patient": patient, "tubes": tubes, "events": events, "now": events[-1]["at"]}
    return judge(read_case(case), default_book()).findings


def kinds(bedside: Bedside) -> list[str]:
    return [event["kind"] for event in all_sent(bedside)]


def draws_blood(bedside: Bedside, who: str = "thandi") -> None:
    """One tube is full, the needle out, the pressure on."""
    bedside.to_the_door(who)
    bedside.settle_identity(who)
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.page.locator("button.main", has_text="Tourniquet off").click()
    bedside.page.locator("button.main", has_text="Needle out").click()
    bedside.wait("mix")


def labels_it(bedside: Bedside, who: str = "thandi") -> None:
    bedside.main("print")
    bedside.main("read_back")
    bedside.scan(bedside.visit(who)["tubes"][0]["specimen"], "compare")
    bedside.main("band_again")
    bedside.scan(bedside.band(who), "site")


def sees_it_dry(bedside: Bedside) -> None:
    bedside.page.locator("button.main", has_text="Look at the site").click()
    bedside.page.wait_for_selector("text=Watch the bare site")
    bedside.skip(6)
    bedside.page.locator("button.main", has_text="It is dry").click()


def tapes_it(bedside: Bedside) -> None:
    bedside.skip(125)
    bedside.page.wait_for_selector('.main[data-look="act"]')
    sees_it_dry(bedside)
    bedside.page.locator("button.main", has_text="Taped").click()
    bedside.wait("bag")


def to_the_round(bedside: Bedside, then: str = "round") -> None:
    bedside.page.locator(".head-round").click()
    bedside.wait(then)


def leaves_all_the_same(bedside: Bedside) -> None:
    to_the_round(bedside, "unfinished")
    bedside.tap("Leave all the same", "round")


def tile(bedside: Bedside, words: str) -> None:
    bedside.page.locator(".tile", has_text=words).first.click()


def somebody_takes_over(bedside: Bedside) -> None:
    tile(bedside, "Somebody takes over")
    bedside.page.get_by_label("Who takes over (name)").fill("Rosa Martins")
    bedside.page.get_by_role("button", name="nurse", exact=True).click()
    bedside.page.locator("button.main", has_text="They take over").click()


# ---- leaving to the round


def test_every_screen_before_the_needle_has_a_way_back_to_the_round(bedside: Bedside):
    bedside.to_the_door("thandi")
    to_the_round(bedside)
    bedside.to_the_door("thandi")
    bedside.main("birth_date")
    to_the_round(bedside)
    bedside.main("birth_date")


@pytest.mark.parametrize("way", ["head", "story"])
def test_nobody_walks_away_from_unlabelled_blood_without_being_asked(bedside: Bedside, way: str):
    draws_blood(bedside)
    if way == "story":
        bedside.page.locator(".head-where").click()
        bedside.wait("story")
        bedside.tap("To the round", "unfinished")
    else:
        to_the_round(bedside, "unfinished")

    assert "unlabelled blood here" in bedside.text
    assert "Label tube 1 now" in bedside.text
    bedside.main("site")


def test_a_tourniquet_is_not_left_on_and_can_be_taken_off_from_there(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.main("questions")
    bedside.main("arms")
    bedside.main("look_for_vein")
    bedside.page.locator("button.main", has_text="Tourniquet on").click()
    bedside.page.wait_for_selector('.main[data-look="panel"]')
    to_the_round(bedside, "unfinished")
    tile(bedside, "Tourniquet off")

    expect(bedside.page.locator(".sentence")).to_have_text("Nothing is left open here")
    bedside.main("round")
    assert kinds(bedside)[-1] == "tourniquet_off"


def test_a_bed_left_all_the_same_stands_first_and_red_with_its_clock(bedside: Bedside):
    draws_blood(bedside)
    bedside.skip(80)
    leaves_all_the_same(bedside)

    first = bedside.page.locator(".door").first
    expect(first).to_have_attribute("data-state", "owed")
    expect(first).to_contain_text("unlabelled blood here")
    expect(first).to_contain_text("pressure 8")
    expect(bedside.page.locator(".strap[data-kind=pressure]")).to_contain_text("18 B")
    expect(bedside.page.locator(".sentence")).to_contain_text("Go back to room 18, bed B")


def test_no_other_bed_is_begun_before_the_open_one_is_settled(bedside: Bedside):
    draws_blood(bedside)
    leaves_all_the_same(bedside)
    bedside.page.locator('.door[data-visit="v-kaarina"]').click()
    bedside.wait("settle_first")

    assert "I am at" not in bedside.text
    expect(bedside.page.locator(".strap[data-kind=pressure]")).to_be_visible()
    bedside.main("mix")
    labels_it(bedside)
    tapes_it(bedside)
    to_the_round(bedside)
    bedside.to_the_door("kaarina")


def test_a_reload_does_not_forget_the_open_bed(bedside: Bedside):
    draws_blood(bedside)
    leaves_all_the_same(bedside)
    bedside.reload()
    bedside.wait("round")

    expect(bedside.page.locator(".door").first).to_have_attribute("data-state", "owed")


# ---- ending


def ends_what_cannot_be_finished(bedside: Bedside) -> None:
    bedside.page.locator(".head-where").click()
    bedside.wait("story")
    bedside.tap("Not drawn", "not_drawn")
    tile(bedside, "Unable to obtain")
    bedside.tap("Cannot be finished")
    bedside.page.locator("button.main", has_text="End this visit").click()
    bedside.wait("unfinished")


def test_a_visit_with_unlabelled_blood_first_shows_the_safe_ways(bedside: Bedside):
    draws_blood(bedside)
    ends_what_cannot_be_finished(bedside)

    assert "Label tube 1 now" in bedside.text
    assert "Discard tube 1" in bedside.text
    assert "all the same" not in bedside.text
    assert "visit_ended" not in kinds(bedside)


def test_it_may_end_only_when_somebody_named_has_taken_over_at_the_bed(bedside: Bedside):
    draws_blood(bedside)
    ends_what_cannot_be_finished(bedside)
    somebody_takes_over(bedside)
    bedside.tap("End it all the same", "held")
    tile(bedside, "Rosa Martins, nurse, took over")
    bedside.wait("ended")

    events = all_sent(bedside)
    [end] = [event for event in events if event["kind"] == "visit_ended"]
    assert (end["data"]["told"]["name"], end["data"]["told"]["role"]) == ("Rosa Martins", "nurse")
    assert end["data"]["reason"] == "the rest: unable to obtain; Rosa Martins, nurse, took over at the bed"
    ahead = {event["data"]["finding"]: event["data"] for event in events if event["kind"] == "went_ahead"}
    assert set(ahead) == {"label-missing", "bleeding-not-checked"}
    assert {(finding.code, finding.severity) for finding in found_by_the_house(bedside, "thandi")} >= {
        ("label-missing", "ask"),
        ("bleeding-not-checked", "ask"),
    }
    assert [finding.code for finding in found_by_the_house(bedside, "thandi") if finding.severity == "stop"] == []


def test_a_name_without_a_role_takes_nothing_over(bedside: Bedside):
    draws_blood(bedside)
    ends_what_cannot_be_finished(bedside)
    tile(bedside, "Somebody takes over")
    bedside.page.get_by_label("Who takes over (name)").fill("Rosa Martins")
    bedside.page.locator("button.main", has_text="They take over").click()

    expect(bedside.page.locator(".sentence")).to_have_text("Who takes over here?")


def test_a_discarded_tube_is_no_blood_left_behind(bedside: Bedside):
    draws_blood(bedside)
    to_the_round(bedside, "unfinished")
    tile(bedside, "Discard tube 1")

    expect(bedside.page.locator(".sentence")).not_to_contain_text("unlabelled")
    assert all_sent(bedside)[-1]["kind"] == "tube_discarded"


def test_unable_to_obtain_with_one_tube_full_leads_through_label_and_bag_to_partly_drawn(bedside: Bedside):
    bedside.to_the_door("katariina")
    bedside.settle_identity("katariina")
    bedside.prepare()
    bedside.main("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.page.locator("button.main", has_text="Tube 2 is full").wait_for()
    bedside.page.locator(".head-where").click()
    bedside.wait("story")
    bedside.tap("Not drawn", "not_drawn")
    tile(bedside, "Unable to obtain")
    bedside.main("draw")
    bedside.tap("Tourniquet off")
    bedside.page.get_by_role("button", name="Needle out").last.click()
    bedside.wait("afterwards")
    bedside.main("mix")
    labels_it(bedside, "katariina")
    tapes_it(bedside)
    bedside.main("leave")
    bedside.main("not_drawn")
    bedside.main("ended")

    end = all_sent(bedside)[-1]["data"]
    assert (end["outcome"], end["reason"]) == ("partly", "the rest: unable to obtain")
    assert {"label_read", "tube_bagged"} <= set(kinds(bedside))


# ---- after a faint


def faints(bedside: Bedside) -> None:
    bedside.tap("Something is wrong", "wrong")
    bedside.tap("Faint", "first_aid")


def test_after_a_faint_nobody_leaves_before_a_quarter_of_an_hour_has_passed(bedside: Bedside):
    # AE-21: CLSI GP41-A7, from memory
    bedside.to_the_door("thandi")
    bedside.main("birth_date")
    faints(bedside)
    expect(bedside.page.locator(".strap[data-kind=faint]")).to_contain_text("not come round yet")
    bedside.tap("Awake again")
    bedside.tap("Write it later", "birth_date")
    bedside.skip(890)
    to_the_round(bedside, "unfinished")
    bedside.tap("Leave all the same", "round")
    expect(bedside.page.locator(".door").first).to_contain_text("fainted")
    bedside.skip(11)

    expect(bedside.page.locator('.door[data-state="owed"]')).to_have_count(0)


def test_after_a_faint_somebody_named_may_stay_instead(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.main("birth_date")
    faints(bedside)
    bedside.tap("Write it later", "birth_date")
    to_the_round(bedside, "unfinished")
    somebody_takes_over(bedside)
    bedside.page.locator("button.main", has_text="To the round").click()
    bedside.wait("round")

    expect(bedside.page.locator('.door[data-state="owed"]')).to_have_count(0)


# ---- the look that was too early


def test_a_look_that_was_too_early_leads_back_to_holding_and_the_clock_stands(bedside: Bedside):
    draws_blood(bedside)
    labels_it(bedside)
    bedside.skip(30)
    bedside.page.locator("button.main", has_text="Look at the site").click()
    bedside.page.wait_for_selector("text=Watch the bare site")
    expect(bedside.page.locator(".strap[data-kind=pressure]")).to_contain_text("gauze lifted")
    bedside.skip(6)
    bedside.page.locator("button.main", has_text="It is dry").click()
    expect(bedside.page.locator(".sentence")).to_have_text("Keep the pressure on")
    bedside.tap("It is taped already", "held")
    bedside.main("site")

    expect(bedside.page.locator(".sentence")).to_have_text("Keep the pressure on")
    assert "taped" not in kinds(bedside)
    tapes_it(bedside)


# ---- notes


def test_an_incomplete_note_stays_open_on_every_screen_and_one_touch_leads_to_it(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.tap("Something is wrong", "wrong")
    bedside.page.locator(".tile", has_text="eedle").or_(bedside.page.locator(".tile", has_text="stuck")).first.click()
    bedside.wait("first_aid")
    bedside.main("note")
    bedside.page.get_by_label("What happened").fill("Left index finger, through the glove.")
    bedside.main("door")
    to_the_round(bedside)
    expect(bedside.page.locator(".head-notes")).to_have_text("1 note open")
    bedside.page.locator(".head-notes").click()
    bedside.wait("note")

    expect(bedside.page.get_by_label("What happened")).to_have_value("Left index finger, through the glove.")
    bedside.page.locator(".tile", has_text=".").first.click()
    bedside.page.get_by_label("Who was told (name)").fill("Rosa Martins")
    bedside.main("round")
    expect(bedside.page.locator(".head-notes")).to_have_count(0)


def test_a_note_of_a_visit_that_is_over_is_finished_from_another_bed(bedside: Bedside):
    bedside.to_the_door("thandi")
    faints(bedside)
    bedside.tap("Write it later", "door")
    bedside.tap("Not drawn", "not_drawn")
    tile(bedside, "Unsafe")
    bedside.tap("Nobody yet", "unfinished")
    somebody_takes_over(bedside)
    bedside.main("held")
    bedside.tap("It happened all the same")
    tile(bedside, "No other way was safe")
    bedside.wait("ended")
    bedside.main("round")
    bedside.to_the_door("kaarina")
    bedside.page.locator(".head-notes").click()
    bedside.wait("note")

    bedside.tap("Finish it later", "door")
    assert "Ojala, Kaarina" in bedside.text


# ---- one bed after another


def test_what_was_saved_at_one_bed_is_not_said_at_the_next(bedside: Bedside):
    bedside.to_the_door("thandi")
    bedside.main("birth_date")
    expect(bedside.page.locator(".receipt-words")).to_contain_text("arrived")
    to_the_round(bedside)
    bedside.to_the_door("kaarina")

    expect(bedside.page.locator(".receipt-words")).to_have_text("")
    expect(bedside.page.locator(".receipt-undo")).to_be_hidden()


def test_a_bed_begun_on_another_tablet_says_so_and_is_asked_about(screens_profile: BrowserContext, house: StandIn):
    packet = a_round()
    begun = {"at": "2026-11-25T05:22:00.000Z", "by": "p-ines"}
    visits = [visit | {"begun": begun if visit["id"] == "v-thandi" else None} for visit in packet["visits"]]
    house.packet = packet | {"visits": visits}
    bedside = Bedside(screens_profile, house).to_the_round()

    expect(bedside.page.locator('.door[data-visit="v-thandi"]')).to_contain_text("begun 05:22 by Ines B.")
    bedside.page.locator('.door[data-visit="v-thandi"]').click()
    bedside.wait("begun_elsewhere")
    bedside.tap("Begin here all the same", "door")
    assert bedside.problems == []


def test_a_bed_another_tablet_has_gone_to_is_said_at_the_door_and_free_when_it_is_left(
    screens_profile: BrowserContext, house: StandIn
):
    there = {"at": "2026-11-25T05:42:00.000Z", "by": "p-ines", "tablet": "Ward 5, no. 2"}
    house.packet = a_round()
    house.claimed["v-thandi"] = there | {"until": "2036-11-25T05:52:00.000Z"}
    bedside = Bedside(screens_profile, house).to_the_round()

    bedside.page.locator('.door[data-visit="v-thandi"]').click()
    bedside.wait("begun_elsewhere")
    expect(bedside.page.locator(".sentence")).to_contain_text("gone to 05:42 by Ines B., on tablet Ward 5, no. 2")
    house.claimed.clear()
    bedside.main("round")
    wait_until(lambda: house.left == ["v-thandi"], "the bed is given free")
    bedside.page.locator('.door[data-visit="v-thandi"]').click()
    bedside.wait("door")
    assert bedside.problems == []


def test_a_claim_whose_lease_is_over_is_not_said(screens_profile: BrowserContext, house: StandIn):
    house.packet = a_round()
    times = {"at": "2026-11-25T05:32:00.000Z", "until": "2026-11-25T05:42:00.000Z"}
    house.claimed["v-thandi"] = {"by": "p-ines", "tablet": None, **times}
    bedside = Bedside(screens_profile, house).to_the_round()

    with bedside.page.expect_response("**/tablet/claim"):
        bedside.page.locator('.door[data-visit="v-thandi"]').click()
    bedside.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    bedside.wait("door")


def test_beds_that_are_done_stand_apart_after_those_to_do(bedside: Bedside):
    bedside.to_the_door("kaarina")
    bedside.tap("Not drawn", "not_drawn")
    tile(bedside, "Patient unavailable")
    bedside.tap("Nobody yet", "ended")
    bedside.main("round")

    stretches = bedside.page.locator(".stretch")
    expect(stretches).to_have_count(2)
    expect(stretches.last).to_contain_text("Done")
    expect(stretches.last.locator(".door")).to_contain_text("patient unavailable")
    assert stretches.first.locator(".door").count() == 4


def test_a_patient_sent_out_again_is_said_and_the_old_visit_leads_there(
    screens_profile: BrowserContext, house: StandIn
):
    packet = a_round()
    kaarina = packet["visits"][0]
    over = kaarina | {"id": "v-before", "position": 0, "tubes": [], "ended": None}
    house.packet = packet | {"visits": [over, *packet["visits"]]}
    bedside = Bedside(screens_profile, house).to_the_round()
    expect(bedside.page.locator('.door[data-visit="v-kaarina"]')).to_contain_text("2 visits of this patient")

    bedside.page.locator('.door[data-visit="v-before"]').click()
    bedside.wait("door")
    bedside.tap("Not drawn", "not_drawn")
    tile(bedside, "Patient unavailable")
    bedside.tap("Nobody yet", "ended")
    tile(bedside, "This patient is on the round again")
    bedside.wait("door")
    to_the_round(bedside)

    expect(bedside.page.locator('.door[data-visit="v-kaarina"]')).to_contain_text("again: patient unavailable")
    assert bedside.problems == []
