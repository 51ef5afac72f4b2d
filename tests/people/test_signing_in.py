"""Signing in, staying in, going out: sessions are rows that can be ended, and guessing is slowed down."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bedside.people import accounts, sessions, throttle
from bedside.people.accounts import AccountRefused, SignInRefused, TooManyTries
from bedside.people.passwords import Passwords
from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.database import db, writing
from bedside.records.moments import now
from bedside.records.tables import Person, Session, SignInFailure
from tests.a_house import PASSWORD, AHouse

NOW = now()


def sign_in(
    house: AHouse, *, name: str = "phlebotomist", password: str = PASSWORD, after_s: float = 0, **more: str
) -> str:
    return accounts.sign_in(
        name=name,
        password=password,
        address=more.get("address", "10.0.0.1"),
        passwords=house.app.config["PASSWORDS"],
        at=NOW + timedelta(seconds=after_s),
        old_token=more.get("old_token"),
    )


def fail(house: AHouse, times: int, **how: str) -> None:
    """Fail so often, each time after the wait the house asked for."""
    for n in range(times):
        with pytest.raises(SignInRefused):
            sign_in(house, password="wrong", after_s=n * 61, **how)


def test_the_database_holds_only_the_hash_of_a_token(house: AHouse) -> None:
    token = sign_in(house)

    assert len(token) >= 43
    assert token not in str(list(Session.select().tuples()))
    assert sessions.who(token, NOW) is not None


def test_a_changed_token_and_the_kept_hash_are_nobody(house: AHouse) -> None:
    token = sign_in(house)
    kept = Session.get().token_hash

    assert sessions.who(token[:-1] + ("A" if token[-1] != "A" else "B"), NOW) is None
    assert sessions.who(kept, NOW) is None
    assert sessions.who("", NOW) is None
    assert sessions.who(None, NOW) is None


@pytest.mark.parametrize(("idle_s", "is_in"), [(30 * 60 - 1, True), (30 * 60, False)])
def test_thirty_minutes_without_a_request_end_a_session(house: AHouse, idle_s: int, is_in: bool) -> None:
    token = sign_in(house)

    assert (sessions.who(token, NOW + timedelta(seconds=idle_s)) is not None) is is_in


def test_being_busy_keeps_a_session_but_not_past_twelve_hours(house: AHouse) -> None:
    token = sign_in(house)

    for minutes in range(0, 12 * 60, 20):
        assert sessions.who(token, NOW + timedelta(minutes=minutes)) is not None
    assert sessions.who(token, NOW + timedelta(hours=12)) is None


def test_signing_in_again_ends_the_session_held_before(house: AHouse) -> None:
    first = sign_in(house)
    second = sign_in(house, old_token=first)

    assert first != second
    assert sessions.who(first, NOW) is None
    assert sessions.who(second, NOW) is not None


def test_disabling_somebody_ends_all_their_sessions_and_they_cannot_return(house: AHouse) -> None:
    tokens = [sign_in(house), sign_in(house)]

    accounts.disable(house.people[Role.PHLEBOTOMIST], NOW)

    assert [sessions.who(token, NOW) for token in tokens] == [None, None]
    with pytest.raises(SignInRefused):
        sign_in(house)
    accounts.enable(house.people[Role.PHLEBOTOMIST], NOW)
    assert sign_in(house)


def test_a_new_password_ends_all_sessions(house: AHouse) -> None:
    token, person = sign_in(house), Person.get_by_id(house.people[Role.PHLEBOTOMIST])

    accounts.set_password(person, "seven quiet bridges", house.app.config["PASSWORDS"], NOW, by="house")

    assert sessions.who(token, NOW) is None
    with pytest.raises(SignInRefused):
        sign_in(house)
    assert sign_in(house, password="seven quiet bridges")


def test_a_role_changed_counts_at_the_next_request(house: AHouse) -> None:
    token = sign_in(house)
    Person.update(role=Role.KEEPER).where(Person.sign_in == "phlebotomist").execute()

    person = sessions.who(token, NOW)

    assert person is not None and person.role == Role.KEEPER


def test_five_failures_are_free_and_then_each_waits_longer_up_to_a_minute(house: AHouse) -> None:
    fail(house, 5)
    with pytest.raises(TooManyTries) as wait:
        sign_in(house, after_s=4 * 61)
    assert wait.value.wait_s in (1, 2)

    assert [throttle.wait_after(n, 5).total_seconds() for n in (4, 5, 6, 7, 10, 11, 12, 5000)] == [
        0, 1, 2, 4, 32, 60, 60, 60,
    ]  # fmt: skip


def test_a_stranger_elsewhere_does_not_lock_somebody_out(house: AHouse) -> None:
    fail(house, 12, address="203.0.113.9")

    assert sign_in(house, address="10.0.0.1", after_s=11 * 61)


def test_one_address_trying_many_names_is_slowed_down_too(house: AHouse) -> None:
    for n in range(30):
        with pytest.raises(SignInRefused):
            sign_in(house, name=f"guess-{n}", password="wrong")

    with pytest.raises(TooManyTries):
        sign_in(house)


def test_a_sign_in_that_works_forgives_the_failures_before(house: AHouse) -> None:
    fail(house, 4)
    sign_in(house, after_s=300)

    fail(house, 4)


def test_names_typed_wrong_are_not_kept(house: AHouse) -> None:
    fail(house, 1, name="my secret password")

    assert "secret" not in str(list(SignInFailure.select().tuples()))
    assert "secret" not in str([entry for entry in audit.entries()])


def test_a_hash_of_lower_cost_is_renewed_at_sign_in(house: AHouse) -> None:
    pepper = house.app.config["PASSWORDS"].pepper
    kept = Passwords.costing(pepper=pepper, passes=2, memory_kib=64).keep(PASSWORD)
    Person.update(password_hash=kept).where(Person.sign_in == "phlebotomist").execute()

    sign_in(house)

    assert Person.get(Person.sign_in == "phlebotomist").password_hash != kept


@pytest.mark.parametrize(
    ("other", "says"),
    [
        ({"sign_in": "  "}, "empty"),
        ({"name": ""}, "empty"),
        ({"role": "surgeon"}, "no role"),
        ({"password": "short"}, "needs 15"),
        ({"sign_in": "Phlebotomist"}, "already signs in"),
    ],
)
def test_an_account_that_cannot_be_made_is_refused_with_the_reason(
    house: AHouse, other: dict[str, str], says: str
) -> None:
    wanted = {"sign_in": "new", "name": "New Person", "role": "keeper", "password": PASSWORD, **other}

    with pytest.raises(AccountRefused, match=says):
        accounts.add_person(**wanted, passwords=house.app.config["PASSWORDS"], at=NOW)  # type: ignore[arg-type]


def test_every_sign_in_and_refusal_is_written_down_by_id(house: AHouse) -> None:
    fail(house, 1)
    token = sign_in(house)
    with writing():
        sessions.end(token, "signed out", NOW)

    person = house.people[Role.PHLEBOTOMIST]
    told = [(entry.who, entry.object, entry.result) for entry in audit.entries() if entry.action == "sign-in"]
    assert told == [("nobody", person, "refused"), (person, person, "done")]


def test_on_a_disk_that_takes_nothing_people_may_still_read(house: AHouse) -> None:
    token = sign_in(house)
    db.execute_sql("PRAGMA query_only = 1")

    assert sessions.who(token, NOW + timedelta(minutes=5)) is not None
    assert sessions.who(token, NOW + timedelta(minutes=31)) is None


def test_guessing_from_a_hundred_addresses_locks_nobody_out_at_an_address_of_their_own(house: AHouse) -> None:
    for n in range(100):
        with pytest.raises(SignInRefused):
            sign_in(house, password="wrong", address=f"203.0.113.{n}")

    assert sign_in(house, address="10.0.0.1")


def test_an_account_that_is_guessed_at_leaves_each_address_one_free_try(house: AHouse) -> None:
    for n in range(60):
        with pytest.raises(SignInRefused):
            sign_in(house, password="wrong", address=f"203.0.113.{n}")

    with pytest.raises(SignInRefused):
        sign_in(house, password="wrong", address="198.51.100.7")
    with pytest.raises(TooManyTries):
        sign_in(house, password="wrong", address="198.51.100.7")


def test_a_browser_that_is_signed_in_is_not_held_up_by_strangers_at_its_address(house: AHouse) -> None:
    token = sign_in(house)
    for n in range(30):
        with pytest.raises(SignInRefused):
            sign_in(house, name=f"guess-{n}", password="wrong")
    with pytest.raises(TooManyTries):
        sign_in(house)

    assert sign_in(house, old_token=token)
