"""Who went away is signed out after half an hour, also from a page that looks again by itself."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from bedside.people.roles import Role
from bedside.people.sessions import IDLE
from bedside.records.moments import as_text, now
from bedside.records.tables import Session
from tests.a_house import AHouse, Browser

REFRESHED = "/ward/?refresh=1"


@pytest.fixture
def nurse(house: AHouse) -> Browser:
    return house.signed_in(Role.CHARGE_NURSE)


def away_for(minutes: float) -> str:
    """Let everybody's last word be so long ago; gives that time."""
    seen = as_text(now() - timedelta(minutes=minutes))
    Session.update(seen_at=seen).execute()
    return seen


def seen() -> str:
    return str(Session.select().order_by(Session.id.desc()).get().seen_at)


def test_a_page_that_looks_again_by_itself_does_not_count_as_being_there(nurse: Browser) -> None:
    left = away_for(29)

    assert nurse.get(REFRESHED).status_code == 200
    assert nurse.client.head(REFRESHED, base_url="https://localhost").status_code == 200

    assert seen() == left


def test_a_person_who_asks_for_a_page_was_there(nurse: Browser) -> None:
    left = away_for(29)

    assert nurse.get("/ward/").status_code == 200

    assert seen() > left


def test_after_half_an_hour_without_anybody_the_page_takes_itself_to_signing_in(nurse: Browser) -> None:
    away_for(IDLE.total_seconds() / 60 + 1)

    answer = nurse.get(REFRESHED)

    assert answer.status_code == 302
    assert answer.headers["Location"] == "/sign-in?next=/ward/"


def test_a_form_is_always_somebody(house: AHouse) -> None:
    keeper = house.signed_in(Role.KEEPER)
    left = away_for(29)

    keeper.client.post("/house/people?refresh=1", base_url="https://localhost", data={})

    assert seen() > left


@pytest.mark.parametrize("path", ["/ward/", "/ward/?ward=w-5"])
def test_the_page_names_the_marked_address_of_itself(nurse: Browser, path: str) -> None:
    page = nurse.get(path).text

    named = re.findall(r'data-refresh-at="([^"]+)"', page)

    assert [one.replace("&amp;", "&") for one in named] == [f"{path}{'&' if '?' in path else '?'}refresh=1"]
    assert f';url={named[0]}"></noscript>' in page
