"""What a visit leaves open waits on the ward's page until somebody decides, and the decision stays in its story."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from bedside.people.roles import Role
from bedside.records import audit, order_changes, patient_changes
from bedside.records.database import writing
from bedside.records.moments import now
from bedside.records.order_standing import COMES_BACK
from bedside.records.tables import FindingReview, OrderNow
from bedside.rounds.taking_out import hand_back
from bedside.sync.verifying import checks
from bedside.web.story import OUTCOME_WORDS
from tests.a_house import AHouse, ATablet, Browser, drawn, proven, visit_of

NOT_DRAWN = (
    "partly", "refused", "away", "not_ready", "discharged", "already_drawn", "no_identity", "no_vein", "restricted",
    "unsafe", "handed_over", "cancelled",
)  # fmt: skip
"""Every way the contract lets a visit end, but `collected`."""

TOLD = {"name": "R. Mensah", "role": "nurse", "at": "2026-11-25T05:00:00.000Z"}


@pytest.fixture
def nurse(house: AHouse) -> Browser:
    return house.signed_in(Role.CHARGE_NURSE)


def ended(tablet: ATablet, outcome: str, patient: str = "Karin") -> dict[str, Any]:
    visit = visit_of(tablet.packet(), patient)
    told = {"outcome": outcome, "reason": "", "told": TOLD}
    tablet.send([*proven(tablet, visit), tablet.event("visit_ended", visit["id"], told)])
    return visit


def text(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def waiting(page: str) -> str:
    """What stands under "Waiting for you", as text."""
    return text(page.partition("Waiting for you")[2].partition("<h2")[0])


def row_of(page: str, name: str) -> str:
    return text(next(row for row in re.findall(r"<tr data-state.*?</tr>", page, re.S) if name in row))


def path_of(visit: dict[str, Any]) -> str:
    return f"/ward/patients/{visit['patient']['id']}"


# --- not drawn is never forgotten ----------------------------------------------------------------------


@pytest.mark.parametrize("outcome", NOT_DRAWN)
def test_every_reason_for_not_drawing_leads_to_an_open_item_on_the_wards_page(
    house: AHouse, nurse: Browser, outcome: str
) -> None:
    """H22 of the trust model: no reason may let a draw be forgotten."""
    ended(house.tablet(), outcome)

    page = nurse.get("/ward/").text

    if outcome in COMES_BACK:
        assert re.search(
            r"pending returned: patient (unavailable|not ready) \S*\d\d:\d\d", row_of(page, "Hansen, Karin")
        )
    else:
        assert "Not drawn:" in waiting(page) and "Hansen, Karin" in waiting(page)
        assert "waits for your decision" in row_of(page, "Hansen, Karin")


def test_a_test_left_out_of_a_visit_that_drew_others_is_an_open_item(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")
    skipped = next(tube["id"] for tube in visit["tubes"] if tube["kind"] == "edta")
    events = [one for one in drawn(tablet, visit) if skipped not in one["body"]]
    tablet.send([*events[:-1], tablet.event("visit_ended", visit["id"], {"outcome": "partly"})])

    page = nurse.get("/ward/").text

    assert "Not drawn: left out at the visit." in waiting(page)
    assert "Ojala, Kaarina" in waiting(page)


def test_a_missed_draw_waits_longer_than_a_shift(house: AHouse, nurse: Browser) -> None:
    visit = ended(house.tablet(), "refused")
    OrderNow.update(at="2020-01-01T00:00:00.000Z").where(OrderNow.state == "not_collected").execute()
    order = OrderNow.get_by_id(visit["orders"][0]["id"]).order
    order.due_from, order.due_to = "2020-01-01T00:00:00.000Z", "2020-01-01T01:00:00.000Z"
    order.save()

    assert "Not drawn: refused." in waiting(nurse.get("/ward/").text)


def test_cancelling_a_missed_draw_closes_its_item(house: AHouse, nurse: Browser) -> None:
    visit = ended(house.tablet(), "discharged")

    order_changes.cancel(visit["orders"][0]["id"], "went home", by=house.people[Role.CHARGE_NURSE], at=now())

    assert "Hansen, Karin" not in waiting(nurse.get("/ward/").text)


def test_no_way_of_ending_a_visit_was_left_out_above() -> None:
    assert {*NOT_DRAWN, "collected"} == set(OUTCOME_WORDS)


# --- send out again ------------------------------------------------------------------------------------


def form(visit: dict[str, Any], **other: str) -> dict[str, str]:
    begins = datetime.now(ZoneInfo("Europe/Lisbon"))
    times = {"due_from": f"{begins:%Y-%m-%dT%H:%M}", "due_to": f"{begins + timedelta(hours=1):%Y-%m-%dT%H:%M}"}
    return {"order": visit["orders"][0]["id"], **times, "person": "", "reason": "", **other}


def test_send_out_again_makes_it_pending_and_the_next_round_takes_it(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = ended(tablet, "refused")
    page = path_of(visit)
    assert "Send out again" in nurse.get(page).text

    answer = nurse.post(f"{page}/again", form(visit), on=page)

    assert answer.status_code == 302
    ward = nurse.get("/ward/").text
    assert "Hansen, Karin" not in waiting(ward)
    assert re.search(r"sent out again, after: refused", row_of(ward, "Hansen, Karin"))
    again = [one for one in tablet.packet()["visits"] if one["patient"]["name"] == "Hansen, Karin"]
    assert [one["ended"] is None for one in again] == [False, True]


def test_send_out_again_for_one_person_says_for_whom(house: AHouse, nurse: Browser) -> None:
    tomasz = house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST)
    visit = ended(house.tablet(), "no_vein")
    page = path_of(visit)

    nurse.post(f"{page}/again", form(visit, person=tomasz), on=page)

    assert "sent out again, for Tomasz Wrona, after: unable to obtain" in row_of(
        nurse.get("/ward/").text, "Hansen, Karin"
    )


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"order": "o-none"}, "Choose at least one order"),
        ({"due_to": ""}, "Write from when until when"),
        ({"due_to": "2020-01-01T05:00"}, "before it begins"),
        ({"person": "p-nobody"}, "takes out rounds"),
    ],
)
def test_half_a_form_sends_nothing_out(house: AHouse, nurse: Browser, wrong: dict[str, str], says: str) -> None:
    visit = ended(house.tablet(), "refused")
    page = path_of(visit)

    answer = nurse.post(f"{page}/again", form(visit, **wrong), on=page)

    assert answer.status_code == 422
    assert says in answer.text
    assert OrderNow.get_by_id(visit["orders"][0]["id"]).state == "not_collected"


# --- questions are settled -----------------------------------------------------------------------------


def drawn_after_cancel(house: AHouse) -> dict[str, Any]:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    order_changes.cancel(visit["orders"][0]["id"], "not needed", by=house.people[Role.CHARGE_NURSE], at=now())
    tablet.send(drawn(tablet, visit))
    return visit


def drawn_twice(house: AHouse) -> tuple[dict[str, Any], dict[str, Any]]:
    ines, tomasz = house.tablet(), house.tablet(house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST))
    first = visit_of(ines.packet(), "Karin")
    with writing():
        hand_back(house.people[Role.PHLEBOTOMIST], now(), "house")
    second = visit_of(tomasz.packet(), "Karin")
    ines.send(drawn(ines, first))
    tomasz.ms = ines.ms + 3_600_000
    tomasz.send(drawn(tomasz, second))
    return first, second


def question(browser: Browser, page: str, code: str) -> dict[str, str]:
    """The hidden fields of the form that settles this question."""
    forms = re.findall(
        r'name="visit" value="([^"]*)">\s*<input [^>]*value="([^"]*)">\s*<input [^>]*value="([^"]*)"',
        browser.get(page).text,
    )
    visit, found, event = next(one for one in forms if one[1] == code)
    return {"visit": visit, "code": found, "event": event}


def test_blood_drawn_after_a_cancellation_is_settled_by_saying_what_became_of_it(house: AHouse, nurse: Browser) -> None:
    page = path_of(drawn_after_cancel(house))
    asked = question(nurse, page, "drawn-after-cancel")

    answer = nurse.post(f"{page}/findings", {**asked, "decision": "discarded", "note": "Rang the lab"}, on=page)

    assert answer.status_code == 302
    assert "cancelled" not in waiting(nurse.get("/ward/").text)
    assert re.search(r"settled \S+ by Maren Solberg: the blood is discarded. Rang the lab", text(nurse.get(page).text))
    last = list(audit.entries())[-1]
    assert (last.action, last.result) == ("finding settled: drawn-after-cancel", "discarded")
    assert [one.fault for one in checks() if one.fault] == []


@pytest.mark.parametrize(("decision", "counts"), [("earlier", 0), ("later", 1)])
def test_where_an_order_was_drawn_twice_the_nurse_says_which_draw_counts(
    house: AHouse, nurse: Browser, decision: str, counts: int
) -> None:
    visits = drawn_twice(house)
    page = path_of(visits[1])
    asked = question(nurse, page, "drawn-twice")

    nurse.post(f"{page}/findings", {**asked, "decision": decision, "note": "by the clock"}, on=page)

    assert OrderNow.get_by_id(visits[0]["orders"][0]["id"]).visit_id == visits[counts]["id"]
    assert [one.fault for one in checks() if one.fault] == []


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"note": "  "}, "Say what was found out"),
        ({"decision": ""}, "Choose first"),
        ({"decision": "later"}, "Choose first"),
        ({"code": "nobody-told", "decision": ""}, "does not stand any more"),
        ({"visit": "v-another"}, "not about a visit of this page"),
    ],
)
def test_half_a_form_settles_nothing(house: AHouse, nurse: Browser, wrong: dict[str, str], says: str) -> None:
    page = path_of(drawn_after_cancel(house))
    asked = {**question(nurse, page, "drawn-after-cancel"), "decision": "kept", "note": "kept", **wrong}

    answer = nurse.post(f"{page}/findings", asked, on=page)

    assert answer.status_code == 422
    assert says in answer.text
    assert FindingReview.select().count() == 0


def test_what_is_settled_is_not_settled_twice(house: AHouse, nurse: Browser) -> None:
    page = path_of(drawn_after_cancel(house))
    asked = {**question(nurse, page, "drawn-after-cancel"), "decision": "kept", "note": "kept"}
    nurse.post(f"{page}/findings", asked, on=page)

    again = nurse.post(f"{page}/findings", {**asked, "decision": "discarded"}, on=page)

    assert again.status_code == 422
    assert [row.decision for row in FindingReview.select()] == ["kept"]


def test_a_draw_from_an_arm_closed_meanwhile_is_a_question_of_its_own_until_it_is_settled(
    house: AHouse, nurse: Browser
) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    page, closed = path_of(visit), now() + timedelta(minutes=5)
    patient_changes.close_arm(visit["patient"]["id"], "right", "iv", by=house.people[Role.CHARGE_NURSE], at=closed)
    tablet.ms = round((closed + timedelta(minutes=5)).timestamp() * 1000)
    tablet.send(drawn(tablet, visit))
    assert "an arm that was closed while the tablet was away" in waiting(nurse.get("/ward/").text)
    asked = question(nurse, page, "restricted-while-away")

    nurse.post(f"{page}/findings", {**asked, "note": "infusion was not running yet"}, on=page)

    assert "closed while the tablet" not in waiting(nurse.get("/ward/").text)
    assert "an arm closed while the tablet was away: settled" in text(nurse.get(page).text)


def test_a_question_does_not_leave_the_page_when_its_order_goes_out_again(house: AHouse, nurse: Browser) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    tablet.send(
        [tablet.event("arrived", visit["id"]), tablet.event("visit_ended", visit["id"], {"outcome": "refused"})]
    )
    asked_of = path_of(visit)
    assert question(nurse, asked_of, "nobody-told")

    nurse.post(f"{asked_of}/again", form(visit), on=asked_of)
    tablet.packet()

    assert "Hansen, Karin" in waiting(nurse.get("/ward/").text)


def test_the_safety_officer_settles_the_questions_of_an_incidents_visit(house: AHouse) -> None:
    tablet, officer = house.tablet(), house.signed_in(Role.SAFETY_OFFICER)
    visit = visit_of(tablet.packet(), "Karin")
    tablet.send(
        [
            *proven(tablet, visit),
            tablet.event("incident_opened", visit["id"], {"kind": "faint"}),
            tablet.event("visit_ended", visit["id"], {"outcome": "unsafe"}),
        ]
    )
    page = re.findall(r'href="(/safety/incidents/[^"]+)"', officer.get("/safety/").text)[0]
    asked = question(officer, page, "nobody-told")

    answer = officer.post(f"{page}/findings", {**asked, "note": "the ward knew"}, on=page)

    assert answer.status_code == 302
    assert re.search(r"settled \S+ by Leela Vaidyan: the ward knew", text(officer.get(page).text))


def test_a_stop_of_a_visit_that_is_over_asks_for_what_can_still_be_done(house: AHouse, nurse: Browser) -> None:
    """ "Keep pressing" is for the bedside, not for a desk an hour later."""
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    events = [one for one in drawn(tablet, visit) if '"site_looked"' not in one["body"]]
    tablet.send(events)

    said = waiting(nurse.get("/ward/").text)

    assert "Hansen, Karin" in said
    assert "Have somebody look at the arm today" in said
    assert "Lift the gauze" not in said


def test_an_order_drawn_in_spite_of_its_cancellation_says_both(house: AHouse, nurse: Browser) -> None:
    page = nurse.get(path_of(drawn_after_cancel(house))).text

    assert re.search(r"collected \S*\d\d:\d\d; had been cancelled: not needed", text(page))
