"""The sign-in page: what it says, where it leads, and what it does not give away."""

from __future__ import annotations

import pytest

from bedside.people import accounts
from bedside.people.roles import Role
from bedside.records.moments import now
from tests.a_house import AHouse


def test_a_page_that_needs_a_person_leads_to_signing_in_and_back(house: AHouse) -> None:
    browser = house.browser()
    asked = browser.get("/ward/")
    assert asked.headers["Location"] == "/sign-in?next=/ward/"

    answer = browser.sign_in("charge_nurse", next="/ward/")

    assert (answer.status_code, answer.headers["Location"]) == (302, "/ward/")
    assert browser.get("/ward/").status_code == 200


@pytest.mark.parametrize(
    "wanted", ["https://evil.example/", "//evil.example/", "/\\evil.example", "javascript:alert(1)", "/a\r\nX: y", ""]
)
def test_signing_in_never_leads_to_another_site(house: AHouse, wanted: str) -> None:
    answer = house.browser().sign_in("charge_nurse", next=wanted)

    assert answer.headers["Location"] == "/"


def test_an_unknown_name_a_wrong_password_and_a_closed_account_get_the_same_answer(house: AHouse) -> None:
    accounts.disable(house.people[Role.KEEPER], now())
    tries = {"nobody": "wrong", "phlebotomist": "wrong", "keeper": "copper kettle at the window"}

    answers = {name: house.browser().sign_in(name, password) for name, password in tries.items()}

    assert {answer.status_code for answer in answers.values()} == {401}
    said = {name: answer.text.partition('role="alert">')[2].partition("<")[0] for name, answer in answers.items()}
    assert len(set(said.values())) == 1 and "do not go together" in said["nobody"]


def test_guessing_is_answered_429_with_the_time_to_wait(house: AHouse) -> None:
    browser = house.browser()
    for _ in range(5):
        assert browser.sign_in("phlebotomist", "wrong").status_code == 401

    answer = browser.sign_in("phlebotomist", "wrong")

    assert answer.status_code == 429
    assert int(answer.headers["Retry-After"]) >= 1


def test_the_page_states_the_caution_and_suits_password_managers(house: AHouse) -> None:
    page = house.browser().get("/sign-in").text

    assert "not a medical device" in page
    assert 'autocomplete="username"' in page and 'autocomplete="current-password"' in page


def test_a_name_with_markup_in_it_stays_text(house: AHouse) -> None:
    page = house.browser().sign_in('"><script>alert(1)</script>', "wrong").text

    assert "<script>alert" not in page
