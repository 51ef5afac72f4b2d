"""Passwords: which ones will do, and how they are kept."""

from __future__ import annotations

import pytest

from bedside.people.passwords import Passwords, password_fault

CHEAP = {"passes": 1, "memory_kib": 64}


def keeper(pepper: bytes = b"p" * 32) -> Passwords:
    return Passwords.costing(pepper=pepper, **CHEAP)


@pytest.mark.parametrize(
    ("password", "says"),
    [
        ("fourteen chars", "needs 15"),
        ("x" * 1025, "at most 1024"),
        ("aaaaaaaaaaaaaaaaaaaa", "repeats"),
        ("abababababababab", "repeats"),
        ("1234567890123456", "repeats"),
        ("abcdefghijklmnop", "repeats"),
        ("Password123456789!", "tried first"),
        ("hospital-ward-nurse", "tried first"),
        ("Baptista2026!Ines1951", "tried first"),
        ("HarbourHillHospital", "tried first"),
    ],
)
def test_these_will_not_do_and_the_reason_is_named(password: str, says: str) -> None:
    fault = password_fault(password, names=("ines", "Ines Baptista", "Harbour Hill Hospital"))

    assert fault is not None and says in fault


@pytest.mark.parametrize(
    "password", ["fifteen letters", "copper kettle at dawn", "šest žlutých koní ☕ " * 4, "a9$Kq2!mZp7#Lw5x"]
)
def test_these_will_do(password: str) -> None:
    assert password_fault(password, names=("ines", "Ines Baptista")) is None


def test_a_password_is_exact_to_the_last_space() -> None:
    passwords = keeper()
    kept = passwords.keep("copper kettle at dawn ")

    assert passwords.verify(kept, "copper kettle at dawn ")
    assert not passwords.verify(kept, "copper kettle at dawn")
    assert not passwords.verify(kept, "Copper kettle at dawn ")


def test_a_copy_of_the_database_without_the_key_verifies_nothing() -> None:
    kept = keeper(b"a" * 32).keep("copper kettle at dawn")

    assert not keeper(b"b" * 32).verify(kept, "copper kettle at dawn")


def test_the_cost_of_a_real_house_is_the_low_memory_choice_of_rfc_9106() -> None:
    kept = Passwords.costing(pepper=b"p" * 32, passes=3, memory_kib=65536).keep("copper kettle at dawn")

    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_a_hash_of_lower_cost_is_outdated() -> None:
    kept = keeper().keep("copper kettle at dawn")

    assert not keeper().is_outdated(kept)
    assert Passwords.costing(pepper=b"p" * 32, passes=2, memory_kib=64).is_outdated(kept)


def test_nonsense_in_place_of_a_hash_verifies_nothing() -> None:
    assert not keeper().verify("none", "copper kettle at dawn")
