"""The tablet's JSON doors: who may knock, what they say when they cannot, and what a full disk does."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records.tables import Event, Session, SetAside
from tests.a_house import BASE, MARK, AHouse, ATablet, drawn, proven, visit_of
from tests.troubles import disk_full, locked_by_another, not_to_be_written

Trouble = Callable[[], AbstractContextManager[None]]


def problem(answer: Any, status: int) -> dict[str, Any]:
    """The answer's problem, whole: RFC 9457 with a code and what to do next."""
    assert answer.status_code == status, answer.text
    assert answer.headers["Content-Type"] == "application/problem+json"
    told = json.loads(answer.data)
    assert set(told) == {"type", "title", "status", "detail", "code", "do_next"}
    assert told["status"] == status
    return dict(told)


def batch(tablet: ATablet, events: list[Any], **other: Any) -> dict[str, Any]:
    return {"house": tablet.browser.house.id, "tablet": tablet.name, "schema": 1, "events": events, **other}


@pytest.fixture
def tablet(house: AHouse) -> ATablet:
    return house.tablet()


def test_hello_says_who_where_what_revision_and_what_time(house: AHouse, tablet: ATablet) -> None:
    told = tablet.hello().get_json()

    assert told["house"] == house.id
    assert told["person"] == {
        "id": house.people[Role.PHLEBOTOMIST], "name": "Ines Baptista", "role": "phlebotomist",
    }  # fmt: skip
    assert told["revision"] == tablet.packet()["revision"] - 1
    assert told["now"].endswith("Z")


def test_the_shell_page_is_the_same_for_everybody_and_holds_no_name(house: AHouse) -> None:
    pages = {browser.get("/tablet/").data for browser in (house.browser(), house.signed_in(Role.PHLEBOTOMIST))}

    (page,) = pages
    assert b"Baptista" not in page and b"Ojala" not in page


@pytest.mark.parametrize("path", ["/tablet/hello", "/tablet/packet"])
def test_nobody_signed_in_is_asked_to_sign_in(house: AHouse, path: str) -> None:
    assert problem(house.browser().get(path, headers=MARK), 401)["code"] == "sign-in"


def test_events_of_nobody_wait_on_the_tablet(house: AHouse, tablet: ATablet) -> None:
    events = [tablet.event("arrived", "v-x")]
    Session.update(ended_at="2026-11-25T07:00:00.000Z").execute()

    assert problem(tablet.post(batch(tablet, events)), 401)["code"] == "sign-in"
    assert Event.select().count() == 0


@pytest.mark.parametrize(
    "headers",
    [
        {"X-Bedside": ""},
        {"X-Bedside": "0"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
    ],
)
def test_what_another_site_sends_is_refused_and_changes_nothing(tablet: ATablet, headers: dict[str, str]) -> None:
    event = tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"])

    assert problem(tablet.post(batch(tablet, [event]), **headers), 403)["code"] == "not-from-this-app"
    assert Event.select().count() == 0


def test_our_own_page_is_let_in(tablet: ATablet) -> None:
    event = tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"])

    answer = tablet.post(batch(tablet, [event]), **{"Sec-Fetch-Site": "same-origin", "Origin": "https://localhost"})

    assert answer.status_code == 200


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_only_json_is_read(tablet: ATablet, kind: str) -> None:
    answer = tablet.browser.client.post(
        "/tablet/events", base_url=BASE, data=json.dumps(batch(tablet, [])), headers=MARK, content_type=kind
    )

    assert problem(answer, 415)["code"] == "not-json"


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b"null", b'{"events": {}}', b'{"events": null}', b"\xff", b"[" * 90_000]
)
def test_a_request_without_a_list_of_events_is_unreadable(tablet: ATablet, body: bytes) -> None:
    answer = tablet.browser.client.post(
        "/tablet/events", base_url=BASE, data=body, headers=MARK, content_type="application/json"
    )

    assert problem(answer, 400)["code"] == "unreadable"


def test_events_of_another_house_are_not_mixed_in(tablet: ATablet) -> None:
    event = tablet.event("arrived", "v-x")

    assert problem(tablet.post(batch(tablet, [event], house="h-other")), 409)["code"] == "other-house"
    assert Event.select().count() == 0 and SetAside.select().count() == 0


def test_two_mebibytes_are_read_and_a_byte_more_is_not(tablet: ATablet) -> None:
    event = tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"])
    whole = json.dumps(batch(tablet, [event], padding=""))
    room = 2 * 1024 * 1024 - len(whole)

    def sent(padding: int) -> Any:
        data = json.dumps(batch(tablet, [event], padding="x" * padding))
        return tablet.browser.client.post(
            "/tablet/events", base_url=BASE, data=data, headers=MARK, content_type="application/json"
        )

    assert problem(sent(room + 1), 413)["code"] == "too-large"
    assert sent(room).status_code == 200


@pytest.mark.long_on_postgres
def test_two_thousand_events_are_read_and_one_more_is_not(tablet: ATablet) -> None:
    assert problem(tablet.post(batch(tablet, [None] * 2001)), 413)["code"] == "too-large"
    assert tablet.post(batch(tablet, [None] * 2000)).status_code == 200


@pytest.mark.parametrize("trouble", [not_to_be_written, disk_full])
def test_a_disk_that_takes_nothing_answers_503_and_later_takes_everything(tablet: ATablet, trouble: Trouble) -> None:
    packet = tablet.packet()
    events = [event for visit in packet["visits"] for event in drawn(tablet, visit)]

    with trouble():
        answer = tablet.post(batch(tablet, events))

    told = problem(answer, 503)
    assert told["code"] == "cannot-save" and answer.headers["Retry-After"] == "5"
    assert Event.select().count() == 0
    assert {one["status"] for one in tablet.send(events)} == {"stored"}


def test_a_locked_database_answers_503_and_keeps_nothing(house: AHouse, tablet: ATablet) -> None:
    events = proven(tablet, visit_of(tablet.packet(), "Karin"))

    with locked_by_another():
        told = problem(tablet.post(batch(tablet, events)), 503)

    assert told["code"] == "cannot-save"
    assert {one["status"] for one in tablet.send(events)} == {"stored"}


def test_the_charge_nurse_gets_no_packet_and_sends_no_events(house: AHouse) -> None:
    nurse = house.signed_in(Role.CHARGE_NURSE)

    assert problem(nurse.get("/tablet/packet", headers=MARK), 403)["code"] == "not-for-this-role"
    assert nurse.get("/tablet/hello", headers=MARK).status_code == 200


def test_one_person_brings_home_what_another_recorded(house: AHouse) -> None:
    ines = house.tablet()
    events = proven(ines, visit_of(ines.packet(), "Karin"))
    tomasz = house.tablet(house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST))

    assert {one["status"] for one in tomasz.send(events)} == {"stored"}

    assert {(row.by, row.tablet) for row in Event.select()} == {("p-ines", ines.name)}


def test_a_page_for_people_is_a_page(house: AHouse) -> None:
    answer = house.browser().get("/nothing")

    assert answer.status_code == 404
    assert "text/html" in answer.headers["Content-Type"]
    assert "What to do:" in answer.text
