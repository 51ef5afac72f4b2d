"""The cases a packet carries, so that a tablet can try its judge before it guides anybody."""

from __future__ import annotations

import gzip
import json
from datetime import date

import pytest

from bedside.clinical.case import read_case
from bedside.clinical.editions import Moved, with_changes
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from bedside.exchange.self_test_file import self_test_cases, written_out
from bedside.sync.self_test import self_test_of
from tests.a_house import AHouse
from tests.cases.files import answered
from tests.cases.self_test import FILE, as_text, chosen
from tests.clinical.test_judge_has_no_numbers import NOT_OF_A_VISIT, OF_THE_TUBE_PLAN

BOOK = default_book()
WRITTEN = {one["name"]: written_out(one["case"], self_test_cases()["shared"]) for one in self_test_cases()["cases"]}


def test_what_is_written_down_is_exactly_what_the_rule_chooses() -> None:
    """If this fails because a rule or a case changed: run `python -m tests.cases.self_test`."""
    assert FILE.read_text(encoding="utf-8") == as_text(chosen())


def test_each_case_is_one_of_the_shared_cases_word_for_word() -> None:
    shared = answered("judge")

    assert len(WRITTEN) >= 100
    for name, case in WRITTEN.items():
        assert {"events": [], **shared[name].case_json} == case, name


def test_every_code_a_visits_judge_can_find_is_found_at_every_severity_the_cases_know() -> None:
    everywhere = {found for case in answered("judge").values() for found in said(case.case_json)}
    here = {found for case in WRITTEN.values() for found in said(case)}

    assert here == everywhere
    assert {code for code, _ in here} == set(BOOK.findings) - NOT_OF_A_VISIT - OF_THE_TUBE_PLAN


def said(case: dict) -> set[tuple[str, str]]:
    return {(one.code, one.severity.value) for one in judge(read_case(case), BOOK).findings}


@pytest.mark.parametrize(
    "name",
    ["tourniquet_max_s", "tourniquet_rest_s", "skin_dry_s", "pressure_min_s", "look_min_s", "attempts_max",
     "identity_kinds_min", "citrate_fill_min_percent", "clock_off_s", "pressure_thinner_s",
     "chlorhexidine_from_months"],
)  # fmt: skip
def test_a_limit_moved_by_one_changes_some_verdict(name: str) -> None:
    limit = BOOK.limits[name]
    step = 1 if limit.value < limit.changeable.high else -1
    moved = with_changes(BOOK, {name: Moved(limit.value + step, date(2026, 12, 1))}, 0)

    assert self_test_of(moved)["cases"] != self_test_of(BOOK)["cases"]


def test_a_packet_carries_them_judged_by_its_own_book(house: AHouse) -> None:
    packet = house.tablet().packet()

    assert packet["self_test"] == json.loads(json.dumps(self_test_of(BOOK)))
    assert len(packet["self_test"]["cases"]) == len(WRITTEN)


def test_they_are_a_small_part_of_what_a_tablet_fetches() -> None:
    """Bytes of one packet, however long the round."""
    told = json.dumps(self_test_of(BOOK), ensure_ascii=False, separators=(",", ":")).encode()

    assert len(told) < 100_000
    assert len(gzip.compress(told)) < 12_000
