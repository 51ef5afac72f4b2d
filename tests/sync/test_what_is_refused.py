"""What can mean two things, names that are too long, and tablets that ask for ever more numbers."""

from __future__ import annotations

import json

import pytest

from bedside.clinical.bad_input import BadInput
from bedside.people.roles import Role
from bedside.records.tables import Event, SetAside
from bedside.sync.placing import Aside, _one_by_one
from bedside.sync.wire import LONGEST_ID
from tests.a_house import MARK, AHouse, visit_of


def test_a_body_with_a_key_twice_is_set_aside(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")["id"]
    event = tablet.event("arrived", visit)
    event["body"] = event["body"][:-1] + ', "kind": "visit_ended"}'

    (answer,) = tablet.send([event])

    assert answer["status"] == "set-aside"
    assert "the key 'kind' stands twice" in SetAside.get().says
    assert Event.get_by_id(event["id"]).body == event["body"]


def test_an_item_with_a_key_twice_is_set_aside_and_the_others_are_taken(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")["id"]
    twice, good = tablet.event("arrived", visit), tablet.event("arrived", visit)
    items = f'{json.dumps(twice)[:-1]}, "seq": 99}}, {json.dumps(good)}'
    message = f'{{"house": "{house.id}", "tablet": "{tablet.name}", "schema": 1, "events": [{items}]}}'

    answer = tablet.browser.client.post(
        "/tablet/events", base_url="https://localhost", data=message, content_type="application/json", headers=MARK
    )

    assert [one["status"] for one in answer.get_json()["answers"]] == ["set-aside", "stored"]


@pytest.mark.parametrize(("length", "status"), [(LONGEST_ID, "stored"), (LONGEST_ID + 1, "set-aside")])
def test_an_id_of_more_than_200_characters_is_set_aside(house: AHouse, length: int, status: str) -> None:
    tablet = house.tablet()
    event = tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"])
    event["id"] = "x" * length

    assert tablet.send([event])[0]["status"] == status


@pytest.mark.parametrize("name", ["visit", "by"])
def test_a_long_name_inside_a_body_is_set_aside_and_its_page_stays_whole(house: AHouse, name: str) -> None:
    tablet, nurse = house.tablet(), house.signed_in(Role.CHARGE_NURSE)
    visit = visit_of(tablet.packet(), "Karin")["id"]
    event = tablet.event("arrived", visit, **({"by": "p" * 5000} if name == "by" else {}))
    if name == "visit":
        event["body"] = json.dumps({**json.loads(event["body"]), "visit": "v" * 5000})

    assert tablet.send([event])[0]["status"] == "set-aside"
    assert "its " + name + " has 5000 characters" in SetAside.get().says
    page = nurse.get("/ward/set-aside").text
    assert "5000 characters" in page
    assert "v" * 300 not in page.partition("As it was sent")[0]


def test_a_round_draws_no_more_than_a_hundred_spare_numbers_in_an_hour(house: AHouse) -> None:
    browser = house.signed_in(Role.PHLEBOTOMIST)
    drawn: set[str] = set()
    for n in range(12):
        packet = browser.get(f"/tablet/packet?tablet=made-up-{n}", headers=MARK).get_json()
        drawn |= {spare["specimen"] for spare in packet["spares"]}

    assert len(drawn) == 100


def test_one_event_that_breaks_a_visit_of_500_is_found_in_few_tries() -> None:
    raw = [{"id": f"e-{n}", "kind": "arrived"} for n in range(500)]
    tries: list[int] = []

    def fits(some: list[dict[str, str]]) -> None:
        tries.append(len(some))
        if any(one["id"] == "e-333" for one in some):
            raise BadInput("at", "x", "does not fit")

    asides: dict[str, Aside] = {}
    kept = _one_by_one(raw, asides, fits)

    assert [one["id"] for one in kept] == [one["id"] for one in raw if one["id"] != "e-333"]
    assert list(asides) == ["e-333"]
    assert len(tries) < 30
