"""A tablet tries its rules before it guides by them: what answers otherwise than the house's judge begins no visit."""

from __future__ import annotations

import copy
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from bedside.clinical.rulebook import default_book
from bedside.settings import folder

from .a_round import a_round
from .at_the_bedside import Bedside
from .stand_in import StandIn, hash_of

# What lies on the disk cannot be spoiled unseen: its tag would not fit. So the packet is spoiled as it is read.
SPOILED_WHEN_READ = """{
  const parse = JSON.parse;
  JSON.parse = (text, ...more) => {
    const read = parse(text, ...more);
    if (sessionStorage.getItem("spoiled") && read?.self_test) read.self_test.cases[0].verdict.stage = "spoiled";
    return read;
  };
}"""
SPOIL = "sessionStorage.setItem('spoiled', 'yes')"


@pytest.fixture
def bedside(profile: BrowserContext, house: StandIn) -> Iterator[Bedside]:
    profile.add_init_script(SPOILED_WHEN_READ)
    held = Bedside(profile, house)
    yield held
    assert held.problems == []


def falsified(revision: int = 1) -> dict[str, Any]:
    """A packet whose last case expects what no judge says."""
    packet = copy.deepcopy(a_round(revision=revision))
    packet["self_test"]["cases"][-1]["verdict"]["may_end"] ^= True
    return packet


def without_a_limit() -> dict[str, Any]:
    told = json.loads(default_book().text)
    del told["limits"]["tourniquet_max_s"]
    text = json.dumps(told, ensure_ascii=False, indent=1)
    return a_round() | {"rulebook": text, "rulebook_hash": hash_of(text)}


def test_rules_that_pass_open_the_round(bedside: Bedside) -> None:
    bedside.to_the_round()

    bedside.to_the_door("kaarina")


def test_an_answer_that_differs_stops_the_tablet_before_any_visit(bedside: Bedside, house: StandIn) -> None:
    house.packet = falsified()

    bedside.open()
    bedside.main("rules_refused")

    assert "The rules did not pass their self-test" in bedside.text
    assert "write on paper" in bedside.text and "Tell whoever keeps the house" in bedside.text
    assert house.packet["self_test"]["cases"][-1]["name"] in bedside.text
    assert bedside.page.locator(".door").count() == 0
    bedside.reload()
    bedside.wait("rules_refused")
    assert house.stored == {}


def test_the_list_of_the_round_stays_to_be_read(bedside: Bedside, house: StandIn) -> None:
    house.packet = falsified()

    bedside.open()
    bedside.main("rules_refused")

    for visit in house.packet["visits"]:
        assert f"room {visit['room']}, bed {visit['bed']}, {visit['patient']['name']}" in bedside.text
        assert visit["patient"]["birth_date"] not in bedside.text


def test_a_packet_that_passes_opens_the_round_again(bedside: Bedside, house: StandIn) -> None:
    house.packet = falsified()
    bedside.open()
    bedside.main("rules_refused")

    house.packet = a_round(revision=2)
    bedside.main("round")

    house.packet = falsified(revision=3)
    bedside.tap("This tablet", "this_tablet")
    bedside.tap("Ask for new orders")
    bedside.main("rules_refused")


def test_rules_without_cases_have_passed_nothing(bedside: Bedside, house: StandIn) -> None:
    house.packet = a_round() | {"self_test": {"shared": [], "cases": []}}

    bedside.open()
    bedside.main("rules_refused")

    assert "no cases came with the rules" in bedside.text


def test_a_rule_that_breaks_has_not_passed(bedside: Bedside, house: StandIn) -> None:
    house.packet = without_a_limit()

    bedside.open()
    bedside.main("rules_refused")

    assert "could not be judged" in bedside.text


def test_an_app_whose_judge_was_changed_is_found_out(profile: BrowserContext, tmp_path: Path) -> None:
    """One sign in one rule: 60 s, which are allowed, would have been too long."""
    static = shutil.copytree(folder("static"), tmp_path / "static")
    judge = static / "js" / "tablet" / "judge.js"
    rule = "longer_s > value(book, 'tourniquet_max_s')"
    assert judge.read_text().count(rule) == 1
    judge.write_text(judge.read_text().replace(rule, rule.replace(">", ">=")))
    house = StandIn(static)
    house.packet = a_round()
    house.start()

    held = Bedside(profile, house).open()
    held.main("rules_refused")

    assert "tourniquet" in held.text
    house.stop()


def test_a_visit_under_way_is_finished_unchecked(bedside: Bedside) -> None:
    """The needle is in: the screens go on, the gate says that nothing is checked, and the truth is recorded."""
    bedside.to_the_round()
    bedside.to_the_door("kaarina")
    bedside.settle_identity("kaarina")
    bedside.prepare()
    bedside.main("draw")

    bedside.page.evaluate(SPOIL)
    bedside.reload()

    bedside.wait("draw")
    bedside.page.locator("button.main", has_text="Tube 1 is full").click()
    bedside.tap("Tourniquet off")
    bedside.tap("Needle out", "held")
    assert "The rules could not be checked." in bedside.text
    bedside.tap("It happened all the same")
    bedside.tap("No other way was safe", "afterwards")
    expect(bedside.page.locator(".head-state")).to_contain_text("all sent")
    kinds = [json.loads(event["body"])["kind"] for event in bedside.house.stored.values()]
    assert "needle_out" in kinds


def test_a_visit_whose_needle_is_not_in_goes_no_further(bedside: Bedside) -> None:
    bedside.to_the_round()
    bedside.to_the_door("kaarina")
    bedside.main("birth_date")

    bedside.page.evaluate(SPOIL)
    bedside.reload()

    bedside.wait("not_checked")
    assert "The rules could not be checked." in bedside.text
    bedside.main("rules_refused")
    assert "Finish room 14, bed B" in bedside.text
