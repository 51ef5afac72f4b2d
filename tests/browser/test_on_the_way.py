"""From the list to pack to the hand-over at the laboratory: real screens in real Chromium, invented patients."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

from playwright.sync_api import expect

from bedside.clinical.case import read_case
from bedside.clinical.timing import as_utc
from bedside.clinical.visit import replay
from bedside.sync.volume_told import WEIGH_FIRST

from .at_the_bedside import Bedside
from .locking import come_in

Json = dict[str, Any]


def all_sent(bedside: Bedside) -> list[Json]:
    expect(bedside.page.locator(".head-state")).to_contain_text("all sent")
    events = sorted(bedside.house.stored.values(), key=lambda event: event["seq"])
    return [{**json.loads(each["body"]), **{name: each[name] for name in ("id", "tablet", "seq")}} for each in events]


def drawn_and_bagged(bedside: Bedside, who: str) -> None:
    """From the round through a whole visit, and back on the round."""
    (tube,) = bedside.visit(who)["tubes"]
    bedside.to_the_door(who)
    bedside.settle_identity(who)
    bedside.prepare()
    bedside.main("draw")
    for words in ("1 is full", "Tourniquet off", "Needle out"):
        bedside.page.locator("button.main", has_text=words).click()
    bedside.wait("mix")
    bedside.main("print")
    bedside.main("read_back")
    bedside.scan(tube["specimen"], "compare")
    bedside.main("band_again")
    bedside.scan(bedside.band(who), "site")
    bedside.skip(125)
    bedside.page.locator("button.main[data-look=act]").click()
    bedside.skip(6)
    for words in ("It is dry", "Taped", "Bagged"):
        bedside.page.locator("button.main", has_text=words).click()
    bedside.wait("leave")
    bedside.main("ended")
    bedside.main("round")


def again_at_another_bed(closed_app: Bedside) -> None:
    """Bo's visit becomes a second one of Thandi's, with a limit of 10 mL a day."""
    again = closed_app.visit("bo")
    again["patient"] = closed_app.visit("thandi")["patient"]
    again |= {"limits": {"max_draw_ml": 10.0}, "volume": {"day_limit_ml": 10.0, "drawn_24h_ml": 0}}


def test_a_tube_on_ice_counts_down_everywhere_and_is_handed_over_without_a_network(closed_app: Bedside):
    again_at_another_bed(closed_app)
    bedside = closed_app.to_the_round()
    drawn_and_bagged(bedside, "thandi")
    wanted = bedside.page.locator(".more")
    expect(wanted).to_contain_text("1 tube must be in the lab by")
    bedside.house.stop()
    bedside.skip(360)
    bedside.to_the_door("bo")
    drawn = bedside.visit("thandi")["tubes"][0]["nominal_ml"]
    assert f"at most {10 - drawn:g} mL now" in bedside.text
    told = bedside.page.locator(".head-lab")
    expect(told).to_have_attribute("data-look", "act")
    bedside.skip(600)
    expect(told).to_have_attribute("data-look", "stop")
    expect(told).to_contain_text("min late")
    bedside.page.locator(".head-state").click()
    bedside.wait("this_tablet")
    bedside.tap("Lock now", "unlock")
    expect(told).to_contain_text("min late")
    come_in(bedside.page)
    bedside.wait("this_tablet")

    told.click()
    bedside.wait("to_lab")
    assert "on ice" in bedside.text
    bedside.main("hand_over")
    bedside.tap("not")
    bedside.main()
    expect(bedside.page.locator("button.main")).to_be_disabled()
    bedside.scan("Rui Tavares")
    bedside.main("to_lab")
    expect(bedside.page.locator(".sentence")).to_have_text("Nothing to bring to the lab")
    bedside.tap("Undo")
    expect(bedside.page.locator(".tick")).to_have_count(1)
    bedside.main("hand_over")
    bedside.main()
    expect(bedside.page.locator("button.main")).to_be_disabled()
    bedside.scan("Rui Tavares")
    bedside.main("to_lab")
    expect(bedside.page.locator(".aside")).to_contain_text("handed over")

    bedside.house.start()
    bedside.page.evaluate("dispatchEvent(new Event('online'))")
    visit = bedside.visit("thandi")
    events = [event for event in all_sent(bedside) if event["visit"] == visit["id"]]
    case = read_case({"patient": visit["patient"], "tubes": visit["tubes"], "events": events, "now": events[-1]["at"]})
    (tube,) = replay(case).tubes.values()
    assert tube.handed_over is not None
    assert tube.handed_over.data["to"]["name"] == "Rui Tavares"
    assert [event["data"]["kept"] for event in events if event["kind"] == "tube_handed_over"] == [["room"], ["ice"]]


def test_the_list_is_ticked_through_a_reload_and_says_what_is_short_before_leaving(closed_app: Bedside):
    packet: Json = closed_app.house.packet or {}
    citrate = next(each for each in packet["supplies"] if each["item"].startswith("tube:citrate"))
    citrate |= {"stock": citrate["take"] - 2, "short": 2}
    bedside = closed_app.to_the_round()
    bedside.tap("Supplies", "supplies")
    assert bedside.page.locator(".sentence").inner_text() == "2 short in the store"
    assert "or bed 17 A will wait" in bedside.text.replace("\u00a0", " ")

    bedside.page.locator(".tick", has_text="winged sets").click()
    ticked = bedside.page.locator('.tick[aria-pressed="true"]')
    expect(ticked).to_have_count(1)
    bedside.reload()
    bedside.wait("supplies")

    expect(ticked).to_have_count(1)
    expect(ticked).to_contain_text("winged sets")


def test_a_missed_level_is_two_taps_and_stays_on_the_round(closed_app: Bedside):
    now = datetime.now(UTC)
    window = {
        "follows": "trough", "why": "trough", "is_level": True, "lacks": "",
        "from": as_utc(now - timedelta(minutes=120)), "aim": as_utc(now - timedelta(minutes=60)),
        "to": as_utc(now - timedelta(minutes=30)), "dose_at": as_utc(now - timedelta(minutes=30)),
    }  # fmt: skip
    closed_app.visit("bo")["orders"] = [{"id": "o-1", "test": "4092-3", "name": "Vancomycin, trough", "window": window}]
    bedside = closed_app.to_the_round()
    expect(bedside.page.locator('.door[data-visit="v-bo"]')).to_contain_text("MISSED")
    bedside.to_the_door("bo")
    assert "Trough before the dose at" in bedside.text

    bedside.tap("Not drawn", "not_drawn")
    bedside.page.locator(".tile", has_text="Window missed").click()
    bedside.wait("ended")
    bedside.main("round")

    expect(bedside.page.locator('.door[data-visit="v-bo"]')).to_contain_text("window missed: Vancomycin, trough")
    (ended,) = [event["data"] for event in all_sent(bedside) if event["kind"] == "visit_ended"]
    assert ended["outcome"] == "not_ready"
    assert ended["reason"].startswith("window missed: Vancomycin, trough, until ")


def test_a_child_without_a_weight_is_not_begun_until_the_house_has_one(closed_app: Bedside):
    visit = closed_app.visit("bo")
    with_weight = json.loads(json.dumps(visit)) | {"limits": {"max_draw_ml": 10.0}}
    visit["patient"] |= {"birth_date": "2019-04-02", "weight_kg": None}
    visit |= {"limits": {"max_draw_ml": 0}, "tubes": [], "volume": {"says": [WEIGH_FIRST]}}
    bedside = closed_app.to_the_round()
    bedside.page.locator('.door[data-visit="v-bo"]').click()
    bedside.wait("weigh_first")
    assert WEIGH_FIRST in bedside.text
    assert bedside.page.get_by_role("button", name="I am at").count() == 0

    bedside.main("weigh_first")
    packet: Json = bedside.house.packet or {}
    packet["visits"] = [with_weight if each["id"] == "v-bo" else each for each in packet["visits"]]
    packet["revision"] += 1
    bedside.main("door")

    assert "at most 10 mL now" in bedside.text
