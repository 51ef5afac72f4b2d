"""An incident struck on the tablet, or put right afterwards, stays before the safety officer's eyes."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records.incidents import ended_visits, register
from bedside.records.moments import as_text, now
from bedside.records.tables import Event, Incident, IncidentReview
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, Browser, drawn, proven, visit_of
from tests.web.test_follow_up import text
from tests.web.test_identity_decision import unlike

TOLD = {"name": "R. Mensah", "role": "nurse", "at": "2026-11-25T05:00:00.000Z"}
NOTE = {"kind": "faint", "at": "2026-11-25T07:00:01.000Z", "steps": ["laid flat"], "told": TOLD, "note": "went pale"}


@pytest.fixture
def officer(house: AHouse) -> Browser:
    return house.signed_in(Role.SAFETY_OFFICER)


def fainted(tablet: ATablet, *, with_note: bool = False) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    visit = visit_of(tablet.packet(), "Karin")
    events = [*proven(tablet, visit), tablet.event("incident_opened", visit["id"], {"kind": "faint"})]
    if with_note:
        events.append(tablet.event("incident_noted", visit["id"], {**NOTE, "opened": events[-1]["id"]}))
    tablet.send(events)
    return visit, events


def strike(tablet: ATablet, visit: dict[str, Any], event: dict[str, Any], reason: str = "wrong button") -> None:
    tablet.send([tablet.event("corrected", visit["id"], {"event": event["id"], "data": None, "reason": reason})])


def close(officer: Browser, incident: str) -> None:
    path = f"/safety/incidents/{incident}"
    form = {"action": "ask about fainting first", "decided_by": "R. Mensah", "close": "yes"}
    assert officer.post(path, form, on=path).status_code == 302


def faults() -> list[str]:
    return [one.fault for one in checks() if one.fault]


def test_a_struck_incident_stays_in_the_register_with_who_when_and_why(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit, events = fainted(tablet)

    strike(tablet, visit, events[-1])

    page = text(officer.get("/safety/").text)
    assert "One incident was struck at the bedside, 1 to review." in page
    assert re.search(r"struck at the bedside, to review Struck by p-ines, \S.*: wrong button", page)
    assert faults() == []


def test_a_struck_incident_counts_for_no_rate_and_is_reviewed_like_any_other(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit, events = fainted(tablet)
    strike(tablet, visit, events[-1])
    tablet.send([tablet.event("visit_ended", visit["id"], {"outcome": "refused", "told": TOLD})])
    (case,) = register()

    close(officer, case.id)

    assert [one.incidents for one in ended_visits()] == [()]
    assert register()[0].is_closed
    assert "struck at the bedside, closed" in text(officer.get("/safety/").text)


def test_what_was_reviewed_already_does_not_vanish_with_the_strike(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit, events = fainted(tablet, with_note=True)
    (case,) = register()
    close(officer, case.id)

    for event in events[-2:]:
        strike(tablet, visit, event)

    (struck,) = register()
    assert (struck.id, struck.is_struck, struck.is_closed) == (case.id, True, False)
    page = text(officer.get(f"/safety/incidents/{case.id}").text)
    assert "A note, or a correction, came after this incident was closed." in page
    assert "It had said: “went pale”" in page
    assert "ask about fainting first" in page
    assert faults() == []


def test_a_struck_note_leaves_the_incident_open_and_is_told(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit, events = fainted(tablet, with_note=True)

    strike(tablet, visit, events[-1], "another patient's")

    (case,) = register()
    assert (case.is_struck, case.is_complete) == (False, False)
    assert [(one.what, one.reason, one.note) for one in case.strikes] == [("note", "another patient's", "went pale")]


def test_a_note_that_comes_after_closing_opens_the_incident_again(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit, events = fainted(tablet)
    (case,) = register()
    close(officer, case.id)
    assert register()[0].is_closed

    tablet.send([tablet.event("incident_noted", visit["id"], {**NOTE, "opened": events[-1]["id"]})])

    assert not register()[0].is_closed
    assert "to review again: word came after closing" in text(officer.get("/safety/").text)
    close(officer, case.id)
    assert register()[0].is_closed


def test_identity_put_right_after_the_draw_does_not_take_the_incident_away(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    events = [unlike(event) for event in drawn(tablet, visit)]
    tablet.send(events)
    spoken = next(one for one in events if "1933-03-03" in one["body"])
    right = {**json.loads(spoken["body"])["data"], "birth_date": visit["patient"]["birth_date"]}
    (before,) = register()

    tablet.send([tablet.event("corrected", visit["id"], {"event": spoken["id"], "data": right, "reason": "misheard"})])

    (after,) = register()
    assert (after.id, after.is_struck) == (before.id, True)
    assert [(one.what, one.reason) for one in after.strikes] == [("identity", "misheard")]
    assert faults() == []


def test_a_mistap_put_right_before_the_needle_is_no_incident(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    wrong = tablet.event("identity_taken", visit["id"], {"source": "spoken", "birth_date": "1933-03-03"})
    struck = tablet.event("corrected", visit["id"], {"event": wrong["id"], "data": None, "reason": "undo"})

    tablet.send([wrong, struck, *drawn(tablet, visit)])

    assert Incident.select().count() == 0


def test_what_went_ahead_is_listed_with_its_reason_and_its_visit_can_be_read(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    events = [one for one in drawn(tablet, visit) if '"site_looked"' not in one["body"]]
    why = {"finding": "bleeding-not-checked", "reason": "patient was taken to the scanner"}
    tablet.send([*events[:-1], tablet.event("went_ahead", visit["id"], why), events[-1]])

    page = officer.get("/safety/").text

    assert "went ahead: patient was taken to the scanner" in text(page)
    (link,) = set(re.findall(r'href="(/safety/visits/[^"]+)"', page))
    assert "Needle in" in officer.get(link).text
    assert officer.get("/safety/visits/v-none").status_code == 404


def test_a_time_after_its_arrival_is_noted_and_sorted_by_the_arrival(house: AHouse, officer: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    tablet.ms = round((now() + timedelta(days=400)).timestamp() * 1000)

    tablet.send([tablet.event("arrived", visit["id"]), tablet.event("incident_opened", visit["id"], {"kind": "faint"})])

    (case,) = register()
    assert case.happened_at <= as_text(now())
    assert Event.select().where(Event.at > as_text(now())).count() == 2
    assert "clocks disagree" in officer.get(f"/safety/incidents/{case.id}").text
    assert IncidentReview.select().count() == 0
    assert faults() == []
