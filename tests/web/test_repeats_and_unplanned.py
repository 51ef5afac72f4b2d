"""What repeats itself is said on the patient's page, and a visit no round had is linked to its patient by a person."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.database import connected, writing
from bedside.records.tables import Event, SetAside, Visit, VisitNow
from bedside.sync.verifying import checks
from tests.a_house import AHouse, Browser, proven, visit_of
from tests.web.a_ward import AWard
from tests.web.test_follow_up import text


@pytest.fixture
def ward(tmp_path: Path, engine: str) -> Iterator[AWard]:
    with AWard.opened(tmp_path / "ward") as opened:
        yield opened


def page_of(ward: AWard, patient: str) -> str:
    return text(ward.sitting(Role.CHARGE_NURSE).text(f"/ward/patients/{patient}"))


def test_two_long_bleedings_and_three_failed_needles_are_said(ward: AWard) -> None:
    with connected(), writing():
        patient = ward.patient("Okoro, Ada", "12")
        for days in (3, 1):
            visit = ward.visit(patient, None, ended_at=ward.at(-days * 1440), last_at=ward.at(-days * 1440), needles=2)
            ward.incident(visit, "long_bleeding", -days * 1440)

    page = page_of(ward, patient)

    assert "Prolonged bleeding at two visits: " in page
    assert "Four needles without blood, at two visits." in page


def test_once_is_not_said(ward: AWard) -> None:
    with connected(), writing():
        patient = ward.patient("Okoro, Ada", "12")
        visit = ward.visit(patient, None, ended_at=ward.at(-60), last_at=ward.at(-60), needles=2)
        ward.incident(visit, "long_bleeding", -60)
        ward.incident(visit, "long_bleeding", -55)

    assert "Again and again" not in page_of(ward, patient)


@pytest.fixture
def nurse(house: AHouse) -> Browser:
    return house.signed_in(Role.CHARGE_NURSE)


def unplanned(house: AHouse) -> dict[str, Any]:
    """A whole visit under an id the tablet made, at the bed of a patient the house knows."""
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    events = [
        *proven(tablet, visit),
        tablet.event("tube_added", visit["id"], {"tube": "t-own", "kind": "edta", "specimen": "1000000017"}),
        tablet.event("tube_filled", visit["id"], {"tube": "t-own"}),
    ]
    for event in events:
        event["body"] = json.dumps({**json.loads(event["body"]), "visit": "v-of-the-tablet"})
    answers = tablet.send(events)
    assert {one["status"] for one in answers} == {"set-aside"}
    return visit


def link(nurse: Browser, **form: str) -> Any:
    row = SetAside.select().order_by(SetAside.id).first()
    told = {"record_number": "", "note": "asked Ines, who went there", **form}
    return nurse.post(f"/ward/set-aside/{row.id}/visit", told, on="/ward/set-aside")


def test_a_visit_no_round_had_counts_once_a_person_says_whose_it_was(house: AHouse, nurse: Browser) -> None:
    visit = unplanned(house)
    assert "Whose visit it was" in nurse.get("/ward/set-aside").text

    answer = link(nurse, record_number=visit["patient"]["record_number"])

    assert answer.status_code == 302
    assert VisitNow.get_by_id("v-of-the-tablet").tubes[0]["specimen"] == "1000000017"
    assert Visit.get_by_id("v-of-the-tablet").patient_id == visit["patient"]["id"]
    assert SetAside.select().where(SetAside.placed_at.is_null()).count() == 0
    assert "Arrived at the bedside." in nurse.get(f"/ward/patients/{visit['patient']['id']}").text
    assert ("unplanned visit linked", "v-of-the-tablet") in {(one.action, one.object) for one in audit.entries()}
    assert {row.status for row in Event.select().where(Event.visit == "v-of-the-tablet")} == {"set-aside"}
    assert [one.fault for one in checks() if one.fault] == []


@pytest.mark.parametrize(
    ("wrong", "says"),
    [({"record_number": "999"}, "No patient here has this record number"), ({"note": " "}, "Say how you know")],
)
def test_half_a_link_links_nothing(house: AHouse, nurse: Browser, wrong: dict[str, str], says: str) -> None:
    visit = unplanned(house)

    answer = link(nurse, **{"record_number": visit["patient"]["record_number"], **wrong})

    assert answer.status_code == 422
    assert says in answer.text
    assert Visit.get_or_none(Visit.id == "v-of-the-tablet") is None
