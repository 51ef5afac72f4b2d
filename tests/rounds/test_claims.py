"""Two tablets at one bed: the first has it for as long as it is heard from, and nobody's record is refused."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records.claims import Claimed, claims_of
from bedside.records.database import connected
from bedside.records.moments import as_text
from bedside.records.tables import Event, FindingNow, Tablet
from bedside.rounds.claims import LEASE, Asked, after_asking
from tests.a_house import BASE, MARK, AHouse, ATablet, drawn, visit_of

AT = datetime(2026, 11, 25, 5, 42, tzinfo=UTC)
MINE = Asked(visit="v-1", tablet="t-mine", by="p-ines")
THEIRS = Asked(visit="v-1", tablet="t-theirs", by="p-tomas")
A_MS = timedelta(milliseconds=1)


def held_by(asked: Asked, since: datetime) -> Claimed:
    return after_asking(None, asked, since)


def test_a_free_bed_is_the_asking_tablets_for_one_lease() -> None:
    now = held_by(MINE, AT)

    assert (now.tablet, now.at, now.until) == ("t-mine", "2026-11-25T05:42:00.000Z", "2026-11-25T05:52:00.000Z")


@pytest.mark.parametrize(
    ("after", "whose"),
    [(timedelta(0), "t-theirs"), (LEASE - A_MS, "t-theirs"), (LEASE, "t-mine"), (LEASE + A_MS, "t-mine")],
)
def test_another_tablets_bed_is_free_once_its_lease_is_over(after: timedelta, whose: str) -> None:
    assert after_asking(held_by(THEIRS, AT), MINE, AT + after).tablet == whose


def test_asking_again_prolongs_the_lease_and_remembers_since_when() -> None:
    later = AT + timedelta(minutes=9)

    again = after_asking(held_by(MINE, AT), MINE, later)

    assert (again.at, again.until) == (as_text(AT), as_text(later + LEASE))


def ask(tablet: ATablet, visit: str, door: str = "claim") -> Any:
    told = {"visit": visit, "tablet": tablet.name, "by": tablet.browser.house.people[Role.PHLEBOTOMIST]}
    return tablet.browser.client.post(f"/tablet/{door}", base_url=BASE, json=told, headers=MARK)


@pytest.fixture
def two(house: AHouse) -> tuple[ATablet, ATablet, dict[str, Any]]:
    """Two tablets of one person that carry the same round, and a bed on it."""
    first, second = house.tablet(), house.tablet()
    visit = visit_of(first.packet(), "Kaarina")
    assert visit_of(second.packet(), "Kaarina")["id"] == visit["id"]
    return first, second, visit


def test_the_second_tablet_is_told_who_is_there_since_when_and_on_which(
    house: AHouse, two: tuple[ATablet, ATablet, dict[str, Any]]
) -> None:
    first, second, visit = two
    Tablet.insert(id=first.name, name="Ward 5, no. 1", first_seen_at="", last_seen_at="").execute()

    assert ask(first, visit["id"]).get_json()["elsewhere"] is None
    told = ask(second, visit["id"]).get_json()["elsewhere"]

    assert (told["by"], told["tablet"]) == (house.people[Role.PHLEBOTOMIST], "Ward 5, no. 1")
    assert told["at"] == claims_of([visit["id"]])[visit["id"]].at < told["until"]
    assert ask(first, visit["id"]).get_json()["elsewhere"] is None


def test_a_bed_that_was_left_with_nothing_done_is_free_and_nobody_frees_anothers(
    two: tuple[ATablet, ATablet, dict[str, Any]],
) -> None:
    first, second, visit = two
    ask(first, visit["id"])

    ask(second, visit["id"], "leave")
    assert ask(second, visit["id"]).get_json()["elsewhere"] is not None
    ask(first, visit["id"], "leave")
    assert ask(second, visit["id"]).get_json()["elsewhere"] is None


def test_of_two_who_ask_at_once_one_has_it(house: AHouse, two: tuple[ATablet, ATablet, dict[str, Any]]) -> None:
    _, _, visit = two
    tablets = [house.tablet() for _ in range(6)]
    began, told = threading.Barrier(len(tablets)), []

    def at_once(tablet: ATablet) -> None:
        began.wait()
        with connected():
            told.append(ask(tablet, visit["id"]).get_json()["elsewhere"])

    threads = [threading.Thread(target=at_once, args=(tablet,)) for tablet in tablets]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert told.count(None) == 1 and len(told) == len(tablets)


def test_events_from_a_bed_claim_it_and_the_packet_names_the_tablet(
    two: tuple[ATablet, ATablet, dict[str, Any]],
) -> None:
    first, second, visit = two
    Tablet.insert(id=first.name, name="Ward 5, no. 1", first_seen_at="", last_seen_at="").execute()

    first.send([first.event("arrived", visit["id"])])

    assert ask(second, visit["id"]).get_json()["elsewhere"]["tablet"] == "Ward 5, no. 1"
    assert visit_of(second.packet(), "Kaarina")["begun"]["tablet"] == "Ward 5, no. 1"


def test_a_claim_refuses_no_event_and_what_was_drawn_twice_is_kept_and_said(
    two: tuple[ATablet, ATablet, dict[str, Any]],
) -> None:
    """Both were offline: the later one's claim is refused only when both have drawn."""
    first, second, visit = two
    ask(first, visit["id"])
    theirs, ours = drawn(first, visit), drawn(second, visit)

    assert {one["status"] for one in first.send(theirs)} == {"stored"}
    assert {one["status"] for one in second.send(ours)} == {"stored"}

    assert Event.select().count() == len(theirs) + len(ours)
    assert claims_of([visit["id"]])[visit["id"]].tablet == first.name
    assert FindingNow.select().where(FindingNow.visit == visit["id"]).exists()


def test_a_bed_nobody_knows_cannot_be_claimed(two: tuple[ATablet, ATablet, dict[str, Any]]) -> None:
    assert ask(two[0], "v-nobody").status_code == 400
