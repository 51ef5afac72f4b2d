"""Changing the rulebook: who signs, how many, and what is kept of it."""

from __future__ import annotations

from datetime import UTC, datetime

import peewee
import pytest

from bedside.people.roles import Role
from bedside.records import audit, rulebooks
from bedside.records.moments import now
from bedside.records.tables import Audit, Rulebook, RulebookEdition, RulebookProposal, RulebookSignature
from bedside.sync.books import book_in_force
from bedside.sync.past_visits import past_visits
from bedside.sync.signing import SigningRefused, propose_change, sign, withdraw
from tests.a_house import AHouse

STRICTER = {"tourniquet_max_s": 50.0}
LOOSER = {"attempts_max": 3.0}


def proposed(house: AHouse, changes: dict[str, float], reason: str = "Agreed in the safety meeting") -> int:
    return propose_change(changes, reason, by=house.people[Role.SAFETY_OFFICER], at=now())


def signed(house: AHouse, proposal: int, role: str, person: str | None = None) -> int | None:
    return sign(proposal, by=person or house.people[role], role=role, at=now())


def test_a_stricter_limit_rules_with_one_signature(house: AHouse) -> None:
    number = signed(house, proposed(house, STRICTER), Role.SAFETY_OFFICER)

    assert number == 1
    assert book_in_force().value("tourniquet_max_s") == 50
    assert rulebooks.find_edition(book_in_force().hash).text == book_in_force().text


def test_a_looser_limit_waits_for_a_second_person(house: AHouse) -> None:
    proposal = proposed(house, LOOSER)

    assert signed(house, proposal, Role.SAFETY_OFFICER) is None
    assert book_in_force().value("attempts_max") == 2
    assert signed(house, proposal, Role.CHARGE_NURSE) == 1

    edition = RulebookEdition.get_by_id(1)
    assert book_in_force().value("attempts_max") == 3
    assert edition.signed_by_id == house.people[Role.SAFETY_OFFICER]
    assert edition.second_by_id == house.people[Role.CHARGE_NURSE]
    assert edition.reason == "Agreed in the safety meeting"


def test_the_same_person_cannot_sign_twice(house: AHouse) -> None:
    proposal = proposed(house, LOOSER)
    signed(house, proposal, Role.SAFETY_OFFICER)

    with pytest.raises(SigningRefused, match="You have signed this already"):
        signed(house, proposal, Role.SAFETY_OFFICER)
    assert RulebookSignature.select().count() == 1


def test_another_safety_officer_may_sign_second(house: AHouse) -> None:
    other = house.add_person("liv", "Liv Dahl", Role.SAFETY_OFFICER)
    proposal = proposed(house, LOOSER)
    signed(house, proposal, Role.SAFETY_OFFICER)

    assert signed(house, proposal, Role.SAFETY_OFFICER, other) == 1


@pytest.mark.parametrize("role", [Role.CHARGE_NURSE, Role.KEEPER, Role.PHLEBOTOMIST])
def test_only_a_safety_officer_signs_first(house: AHouse, role: Role) -> None:
    with pytest.raises(SigningRefused, match="The first signature is for a safety officer"):
        signed(house, proposed(house, STRICTER), role)
    assert RulebookSignature.select().count() == 0


def test_a_phlebotomist_does_not_sign_second(house: AHouse) -> None:
    proposal = proposed(house, LOOSER)
    signed(house, proposal, Role.SAFETY_OFFICER)

    with pytest.raises(SigningRefused, match="second signature is for a charge nurse or"):
        signed(house, proposal, Role.PHLEBOTOMIST)


def test_what_the_rules_refuse_is_not_even_kept(house: AHouse) -> None:
    for changes in ({"tourniquet_max_s": 61.0}, {"identity_kinds_min": 1.0}, {"tourniquet_max_s": 60.0}):
        with pytest.raises(SigningRefused):
            proposed(house, changes)
    with pytest.raises(SigningRefused, match="needs a reason"):
        proposed(house, LOOSER, " ")
    assert RulebookProposal.select().count() == 0


def test_a_proposal_for_an_edition_that_no_longer_rules_must_be_made_anew(house: AHouse) -> None:
    waiting = proposed(house, LOOSER)
    signed(house, waiting, Role.SAFETY_OFFICER)
    signed(house, proposed(house, STRICTER), Role.SAFETY_OFFICER)

    with pytest.raises(SigningRefused, match="has changed since"):
        signed(house, waiting, Role.CHARGE_NURSE)


def test_going_back_is_looser_than_staying_and_makes_an_edition_of_its_own(house: AHouse) -> None:
    signed(house, proposed(house, STRICTER), Role.SAFETY_OFFICER)
    back = proposed(house, {"tourniquet_max_s": 60.0})

    assert signed(house, back, Role.SAFETY_OFFICER) is None
    assert signed(house, back, Role.KEEPER) == 2
    signed(house, proposed(house, STRICTER), Role.SAFETY_OFFICER)

    assert book_in_force().edition == 3
    assert len({row.rulebook_id for row in RulebookEdition.select()}) == 3


def test_a_withdrawn_proposal_cannot_be_signed(house: AHouse) -> None:
    proposal = proposed(house, STRICTER)
    withdraw(proposal, by=house.people[Role.SAFETY_OFFICER], at=now())

    with pytest.raises(SigningRefused, match="settled already"):
        signed(house, proposal, Role.SAFETY_OFFICER)
    with pytest.raises(SigningRefused, match="settled already"):
        withdraw(proposal, by=house.people[Role.SAFETY_OFFICER], at=now())
    with pytest.raises(SigningRefused, match="no such proposal"):
        signed(house, 99, Role.SAFETY_OFFICER)


def test_every_step_stands_in_the_audit_record(house: AHouse) -> None:
    proposal = proposed(house, LOOSER)
    signed(house, proposal, Role.SAFETY_OFFICER)
    signed(house, proposal, Role.KEEPER)

    acts = [(row.who, row.action) for row in Audit.select().order_by(Audit.seq) if row.action.startswith("rulebook")]
    officer, keeper = house.people[Role.SAFETY_OFFICER], house.people[Role.KEEPER]
    assert acts == [
        (officer, "rulebook change proposed"),
        (officer, "rulebook change signed"),
        (keeper, "rulebook change signed"),
        (keeper, "rulebook published"),
    ]
    assert audit.first_fault(audit.entries()) is None


@pytest.mark.parametrize("table", [Rulebook, RulebookEdition, RulebookProposal, RulebookSignature])
def test_what_was_published_cannot_be_changed_or_deleted(house: AHouse, table: type) -> None:
    signed(house, proposed(house, STRICTER), Role.SAFETY_OFFICER)
    name = table._meta.table_name

    column = table._meta.primary_key.column_name
    for statement in (f'DELETE FROM "{name}"', f'UPDATE "{name}" SET "{column}" = "{column}"'):
        with pytest.raises(peewee.IntegrityError, match="written once"):
            table._meta.database.execute_sql(statement)


def test_only_the_newest_visits_of_a_long_month_are_judged_again(house: AHouse) -> None:
    tablet = house.tablet()
    for visit in tablet.packet()["visits"][:3]:
        tablet.send([tablet.event("arrived", visit["id"])])
    longest_ago = datetime(2026, 1, 1, tzinfo=UTC)

    every = [one.visit for one in past_visits(longest_ago)]

    assert len(every) == 3
    assert [one.visit for one in past_visits(longest_ago, most=2)] == every[1:]
    assert list(past_visits(datetime(2126, 1, 1, tzinfo=UTC))) == []
