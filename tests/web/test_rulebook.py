"""The rulebook's desk: the sheet, a change proposed and signed by the book, and every edition compared."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from bedside.clinical.rulebook import default_book
from bedside.people.roles import Role, who_may_open
from bedside.records import rulebooks
from bedside.records.database import connected
from bedside.sync.books import book_in_force
from tests.a_house import AHouse, Browser, visit_of
from tests.sync.test_books import drawn_under_a_band
from tests.web.a_ward import AWard, Sitting

CHANGE, PROPOSALS, EDITIONS = "/house/rulebook/change", "/house/rulebook/proposals", "/house/rulebook/editions"


@pytest.fixture
def ward(tmp_path: Path, engine: str) -> Iterator[AWard]:
    with AWard.opened(tmp_path / "house") as opened:
        yield opened


@pytest.fixture
def officer(ward: AWard) -> Sitting:
    return ward.sitting(Role.SAFETY_OFFICER)


def as_shown(page: str) -> dict[str, str]:
    """What the form sends when nothing was typed."""
    return dict(re.findall(r'<input type="text"[^>]* name="(\w+)" value="([^"]*)"', page))


def propose(officer: Sitting | Browser, reason: str = "", **typed: str) -> Any:
    page = officer.get(CHANGE).text
    return officer.post(CHANGE, {**as_shown(page), "reason": reason, **typed}, on=CHANGE)


def sign(sitting: Sitting, proposal: int = 1) -> Any:
    at = f"{PROPOSALS}/{proposal}"
    return sitting.post(f"{at}/sign", {}, on=at)


def in_force(name: str) -> float:
    with connected():
        return book_in_force().value(name)


def words_of_proposal(officer: Browser, **typed: str) -> str:
    return words(officer.get(propose(officer, **typed).location).text)


def words(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page)).split())


def test_the_sheet_says_how_far_a_site_may_move_each_limit(officer: Sitting) -> None:
    sheet = words(officer.text("/house/rulebook"))

    assert "Tourniquet, at most 60 s 30 to 60, lower is stricter" in sheet
    assert "Lithium after dose 12 h after the dose fixed" in sheet


def test_the_form_names_every_limit_a_site_may_move_and_no_other(officer: Sitting) -> None:
    changeable = {name: f"{one.value:g}" for name, one in default_book().limits.items() if one.changeable}

    assert as_shown(officer.text(CHANGE)) == changeable


def test_a_stricter_limit_is_proposed_signed_and_in_force(officer: Sitting) -> None:
    answer = propose(officer, tourniquet_max_s="45")
    assert answer.location == f"{PROPOSALS}/1"
    page = words(officer.text(f"{PROPOSALS}/1"))
    assert "Tourniquet, at most 60 45 s stricter" in page
    assert "One signature to come: every change is stricter" in page
    assert in_force("tourniquet_max_s") == 60

    assert sign(officer).status_code == 302

    assert in_force("tourniquet_max_s") == 45
    sheet = words(officer.text("/house/rulebook"))
    assert "Edition 1 of this site." in sheet and "Signed by Grace Oyelaran." in sheet
    assert "Tourniquet, at most 45 s" in sheet


def test_a_looser_limit_needs_a_reason_and_somebody_else(ward: AWard, officer: Sitting) -> None:
    refused = propose(officer, attempts_max="3")
    assert refused.status_code == 422
    assert "needs a reason" in refused.text and 'value="3"' in refused.text

    propose(officer, "Hard veins on this ward", attempts_max="3")
    sign(officer)
    assert in_force("attempts_max") == 2
    waiting = words(officer.text(f"{PROPOSALS}/1"))
    assert "You have signed this already." in waiting and "Sign this change" not in waiting
    assert sign(officer).status_code == 422
    assert in_force("attempts_max") == 2

    assert sign(ward.sitting(Role.CHARGE_NURSE)).status_code == 302
    assert in_force("attempts_max") == 3
    history = words(officer.text(EDITIONS))
    assert "Signed by Grace Oyelaran and Tomas Lindqvist" in history and "Hard veins on this ward" in history


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"tourniquet_max_s": "61"}, "outside what a site may choose"),
        ({"tourniquet_max_s": "forty"}, "'forty' is no number"),
        ({"tourniquet_max_s": ""}, "is no number"),
        ({"tourniquet_max_s": "nan"}, "Enter one from 30 to 60"),
        ({"identity_kinds_min": "1"}, "from 2 to 3"),
        ({}, "Nothing would change"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_nothing_is_kept(
    officer: Sitting, typed: dict[str, str], says: str
) -> None:
    answer = propose(officer, "Because", **typed)

    assert answer.status_code == 422
    assert says in words(answer.text)
    with connected():
        assert rulebooks.proposals() == []


def test_a_withdrawn_proposal_is_settled(officer: Sitting) -> None:
    propose(officer, tourniquet_max_s="45")

    officer.post(f"{PROPOSALS}/1/withdraw", {}, on=f"{PROPOSALS}/1")

    assert "Withdrawn." in officer.text(PROPOSALS)
    assert "Sign this change" not in officer.text(f"{PROPOSALS}/1")
    assert officer.get(f"{PROPOSALS}/7").status_code == 404


def test_two_editions_are_compared_in_words(officer: Sitting) -> None:
    propose(officer, skin_dry_s="45")
    sign(officer)
    with connected():
        new, old = (one.hash for one in rulebooks.editions())

    page = words(officer.text(f"{EDITIONS}?old={old}&new={new}"))

    assert "limit skin_dry_s 30 s, since 2026-11-25" in page
    assert "this site's choice; 30 by WHO" in page
    assert "differences" not in words(officer.text(f"{EDITIONS}?old=sha256:x&new={new}"))


def test_a_form_without_its_token_signs_nothing(officer: Sitting) -> None:
    propose(officer, tourniquet_max_s="45")

    answer = officer.client.post(f"{PROPOSALS}/1/sign", base_url="https://localhost")

    assert answer.status_code == 400
    assert in_force("tourniquet_max_s") == 60


def test_the_proposal_says_what_it_would_have_done_to_last_months_visits(house: AHouse) -> None:
    tablet = house.tablet()
    packet = tablet.packet()
    for patient, seconds in (("Karin", 50), ("Karen", 40)):
        tablet.send(drawn_under_a_band(tablet, visit_of(packet, patient), seconds, packet["rulebook_hash"]))
    officer = house.signed_in(Role.SAFETY_OFFICER)

    propose(officer, tourniquet_max_s="45")

    page = words(officer.get(f"{PROPOSALS}/1").text)
    assert "Two visits of the last 30 days judged again: one visit would have been told something else." in page
    assert "judged again: no visits would" in words_of_proposal(officer, look_min_s="6")
    assert re.search(r"tourniquet-too-long would appear, as ask 1 1 \S.*ward 5, ", page)


@pytest.mark.parametrize("role", list(Role))
def test_every_door_opens_for_its_roles_alone(ward: AWard, officer: Sitting, role: Role) -> None:
    propose(officer, tourniquet_max_s="45")
    sitting = ward.sitting(role)

    for endpoint, path in (
        ("sheet", "/house/rulebook"),
        ("change", CHANGE),
        ("proposals", PROPOSALS),
        ("proposal", f"{PROPOSALS}/1"),
        ("editions", EDITIONS),
    ):
        wanted = 200 if role in who_may_open(f"rulebook.{endpoint}") else 403
        assert sitting.get(path).status_code == wanted, path


@pytest.mark.parametrize("role", list(Role))
def test_the_rulebooks_own_links_lead_only_where_the_reader_may_go(ward: AWard, role: Role) -> None:
    sitting = ward.sitting(role)
    links = re.findall(r'<a [^>]*href="(/house/rulebook[^"]*)"', sitting.text("/house/rulebook"))

    assert len(links) >= 2
    assert {sitting.get(link).status_code for link in links} == {200}
