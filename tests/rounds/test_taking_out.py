"""A person takes out a round; what is on it is on nobody else's."""

from __future__ import annotations

from datetime import timedelta

from bedside.clinical.rulebook import default_book
from bedside.exchange.directory_file import built_in_directory
from bedside.people.roles import Role
from bedside.records.database import writing
from bedside.records.moments import now
from bedside.records.rounds_open import ward_named
from bedside.records.tables import OrderNow, Round, Visit
from bedside.rounds.taking_out import Tools, hand_back, take_out
from tests.a_house import AHouse, order_row

TOOLS = Tools(directory=built_in_directory(), book=default_book())


def states() -> dict[str, int]:
    counted: dict[str, int] = {}
    for row in OrderNow.select():
        counted[row.state] = counted.get(row.state, 0) + 1
    return counted


def take(house: AHouse, person: str = Role.PHLEBOTOMIST, *, later: timedelta = timedelta(0)) -> Round:
    with writing():
        return take_out(house.people.get(person, person), None, TOOLS, now() + later)


def test_taking_out_takes_every_phlebotomist_order_and_no_nurses(house: AHouse) -> None:
    assert states() == {"pending": 7}

    take(house)

    assert states() == {"out": 6, "pending": 1}


def test_a_second_person_gets_what_is_left(house: AHouse) -> None:
    take(house)
    tomasz = house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST)

    out = take(house, tomasz)

    assert Visit.select().where(Visit.round == out.id).count() == 0


def test_an_order_due_tomorrow_stays_for_tomorrow(house: AHouse) -> None:
    tomorrow = (now() + timedelta(hours=20)).isoformat()
    house.take_in([order_row("A-80", "Karin", "58410-2", due_from=tomorrow, due_to=tomorrow)])

    take(house)

    assert states() == {"out": 6, "pending": 2}


def test_handing_back_makes_what_was_not_begun_pending_again(house: AHouse) -> None:
    take(house)

    with writing():
        assert hand_back(house.people[Role.PHLEBOTOMIST], now(), "house")

    assert states() == {"pending": 7}


def test_who_has_no_round_hands_nothing_back(house: AHouse) -> None:
    with writing():
        assert not hand_back(house.people[Role.PHLEBOTOMIST], now(), "house")


def test_a_round_ends_with_the_shift_and_a_new_one_is_taken_out(house: AHouse) -> None:
    first = take(house)

    just_before = take(house, later=timedelta(hours=11, minutes=59))
    after = take(house, later=timedelta(hours=12, seconds=1))

    assert just_before.id == first.id != after.id
    assert Round.get_by_id(first.id).closed_at is not None
    assert Visit.select().where(Visit.round == after.id).count() == 5


def test_a_ward_takes_only_its_own_orders(house: AHouse) -> None:
    house.take_in([order_row("A-81", "Karin", "58410-2", ward="6", room="1")])
    ward = ward_named("6")
    assert ward is not None
    with writing():
        out = take_out(house.people[Role.PHLEBOTOMIST], ward.id, TOOLS, now())

    assert {visit.patient.family for visit in Visit.select().where(Visit.round == out.id)} == {"Hansen"}
