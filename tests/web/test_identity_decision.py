"""Blood drawn while it was not settled who the patient was counts for nothing until a named person decides."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.tables import FindingReview, IdentityDecision, OrderNow
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, Browser, drawn, visit_of
from tests.web.test_follow_up import path_of, question, row_of, text, waiting


@pytest.fixture
def nurse(house: AHouse) -> Browser:
    return house.signed_in(Role.CHARGE_NURSE)


def unlike(event: dict[str, Any]) -> dict[str, Any]:
    """The same event, with another birth date spoken."""
    body = json.loads(event["body"])
    if body["kind"] == "identity_taken" and body["data"]["source"] == "spoken" and "birth_date" in body["data"]:
        body["data"]["birth_date"] = "1933-03-03"
    return {**event, "body": json.dumps(body)}


def drawn_from_somebody_else(tablet: ATablet, patient: str = "Karin") -> dict[str, Any]:
    visit = visit_of(tablet.packet(), patient)
    tablet.send([unlike(event) for event in drawn(tablet, visit)])
    return visit


def order_of(visit: dict[str, Any]) -> OrderNow:
    return OrderNow.get_by_id(visit["orders"][0]["id"])


def decide(nurse: Browser, visit: dict[str, Any], decision: str, who: str = "", note: str = "rang the ward") -> Any:
    page = path_of(visit)
    asked = question(nurse, page, "identity-mismatch")
    return nurse.post(f"{page}/findings", {**asked, "decision": decision, "who": who, "note": note}, on=page)


def faults() -> list[str]:
    return [one.fault for one in checks() if one.fault]


def test_blood_of_somebody_not_identified_is_not_collected_but_in_question(house: AHouse, nurse: Browser) -> None:
    visit = drawn_from_somebody_else(house.tablet())

    page = nurse.get("/ward/").text

    assert (order_of(visit).state, order_of(visit).may_go_out) == ("in_question", False)
    assert "blood in question" in row_of(page, "Hansen, Karin")
    assert faults() == []


def test_the_question_names_every_specimen_and_says_what_to_do_now(house: AHouse, nurse: Browser) -> None:
    visit = drawn_from_somebody_else(house.tablet())

    said = waiting(nurse.get(path_of(visit)).text)

    for tube in visit["tubes"]:
        assert f"Specimen {tube['specimen']}" in said
    assert "Do not draw" not in said
    assert "Blood that was drawn counts for no order until a licensed person decides" in said
    assert visit["tubes"][0]["specimen"] in waiting(nurse.get("/ward/").text)


def test_it_is_one_question_however_many_steps_came_before_identity(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")
    tablet.send([one for one in drawn(tablet, visit) if '"identity_taken"' not in one["body"]])

    page = nurse.get(path_of(visit)).text

    assert page.count('value="identity-missing"') == 1


def test_discarded_blood_sends_the_order_out_again(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = drawn_from_somebody_else(tablet)

    answer = decide(nurse, visit, "discarded")

    assert answer.status_code == 302
    assert (order_of(visit).state, order_of(visit).may_go_out) == ("pending", True)
    assert "blood discarded, because identity was not settled" in row_of(nurse.get("/ward/").text, "Hansen, Karin")
    assert IdentityDecision.get().tubes == [tube["id"] for tube in visit["tubes"]]
    assert faults() == []


def test_drawn_again_after_the_first_blood_was_discarded_is_not_drawn_twice(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = drawn_from_somebody_else(tablet)
    decide(nurse, visit, "discarded")
    again = next(one for one in tablet.packet()["visits"] if one["ended"] is None and one["orders"] == visit["orders"])

    tablet.send(drawn(tablet, again))

    assert (order_of(visit).state, order_of(visit).visit_id) == ("collected", again["id"])
    assert "drawn twice" not in waiting(nurse.get("/ward/").text)
    assert faults() == []


def test_kept_blood_counts_under_the_name_of_whoever_decided(house: AHouse, nurse: Browser) -> None:
    visit = drawn_from_somebody_else(house.tablet())

    decide(nurse, visit, "kept", "Dr. Amara Nwosu, physician", "she stood at the bed and knows him")

    assert order_of(visit).state == "collected"
    assert "Dr. Amara Nwosu, physician: she stood at the bed" in text(nurse.get(path_of(visit)).text)
    said = {(entry.action, entry.result) for entry in audit.entries()}
    assert ("blood with identity unsettled", "kept") in said
    assert ("finding settled: identity-mismatch", "kept") in said
    assert faults() == []


@pytest.mark.parametrize(
    ("decision", "who", "note", "says"),
    [
        ("", "", "seen", "Choose what becomes of the blood first"),
        ("later", "", "seen", "Choose what becomes of the blood first"),
        ("kept", "", "seen", "Name the licensed person"),
        ("kept", "AN", "seen", "Name the licensed person"),
        ("discarded", "", "  ", "Say why"),
    ],
)
def test_a_note_alone_settles_nothing_about_blood(
    house: AHouse, nurse: Browser, decision: str, who: str, note: str, says: str
) -> None:
    visit = drawn_from_somebody_else(house.tablet())

    answer = decide(nurse, visit, decision, who, note)

    assert answer.status_code == 422
    assert says in answer.text
    assert FindingReview.select().count() == IdentityDecision.select().count() == 0
    assert order_of(visit).state == "in_question"


def test_a_tube_that_comes_in_after_the_decision_asks_again(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")
    events = [unlike(event) for event in drawn(tablet, visit)]
    late = [one for one in events if visit["tubes"][1]["id"] in one["body"]]
    tablet.send([one for one in events if one not in late])
    decide(nurse, visit, "kept", "Dr. Amara Nwosu", "knows him")

    tablet.send(late)

    states = {order["test"]: OrderNow.get_by_id(order["id"]).state for order in visit["orders"]}
    assert [states[tube["tests"][0]] for tube in visit["tubes"]] == ["collected", "in_question"]
    assert visit["tubes"][1]["specimen"] in waiting(nurse.get(path_of(visit)).text)
    assert faults() == []


def test_where_nothing_was_drawn_a_note_is_enough(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    spoken = {"source": "spoken", "birth_date": "1933-03-03", "how": "typed"}
    ended = {"outcome": "no_identity", "told": {"name": "R. Mensah", "role": "nurse", "at": "2026-11-25T05:00:00.000Z"}}
    tablet.send(
        [
            tablet.event("arrived", visit["id"]),
            tablet.event("identity_taken", visit["id"], spoken),
            tablet.event("visit_ended", visit["id"], ended),
        ]
    )

    answer = decide(nurse, visit, "", note="another patient had been put into this bed")

    assert answer.status_code == 302
    assert re.search("settled .* by Maren Solberg", text(nurse.get(path_of(visit)).text))
