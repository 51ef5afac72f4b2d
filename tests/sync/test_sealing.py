"""Sealed events come home: opened by the house alone, kept whatever becomes of them, counted once."""

from __future__ import annotations

import base64
import os
from typing import Any

import pytest

from bedside.records.database import connected
from bedside.records.house import read_sealing_keys
from bedside.records.tables import Event, OpenedBody, SetAside, VisitNow
from bedside.sync.sealing import Opener, SealingKey, Unopenable, seal
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, drawn, visit_of


@pytest.fixture
def tablet(house: AHouse) -> ATablet:
    return house.tablet()


@pytest.fixture
def key(house: AHouse) -> SealingKey:
    return Opener.of(read_sealing_keys(house.settings.home)).keys[0]


def sealed(event: dict[str, Any], key: SealingKey) -> dict[str, Any]:
    """The event as a tablet sends it that seals."""
    text = seal(event["body"], event["id"], event["tablet"], key.point, os.urandom(12))
    return {name: event[name] for name in ("id", "tablet", "seq")} | {"sealed": text}


def test_a_sealed_visit_counts_as_the_same_visit_unsealed(tablet: ATablet, key: SealingKey) -> None:
    visit = visit_of(tablet.packet(), "Kaarina")

    answers = tablet.send([sealed(event, key) for event in drawn(tablet, visit)])

    assert {answer["status"] for answer in answers} == {"stored"}
    now = VisitNow.get_by_id(visit["id"])
    assert (now.outcome, now.may_end, now.worst) == ("collected", True, None)
    with connected():
        assert [check for check in checks() if check.fault] == []


def test_what_was_sent_stays_as_it_was_sent_and_what_it_says_stands_beside_it(tablet: ATablet, key: SealingKey) -> None:
    event = tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"])
    sent = sealed(event, key)

    tablet.send([sent])

    kept = Event.get_by_id(event["id"])
    assert (kept.sealed, kept.body) == (True, sent["sealed"])
    assert OpenedBody.get_by_id(event["id"]).body == event["body"]


def test_the_same_sealed_event_again_is_known(tablet: ATablet, key: SealingKey) -> None:
    sent = sealed(tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"]), key)

    assert [tablet.send([sent])[0]["status"] for _ in range(2)] == ["stored", "known"]


def flipped(event: dict[str, Any], byte: int) -> dict[str, Any]:
    raw = bytearray(base64.b64decode(event["sealed"]))
    raw[byte] ^= 1
    return {**event, "sealed": base64.b64encode(raw).decode()}


@pytest.mark.parametrize("byte", [0, 3, 20, 76, 90, -1])
def test_T_V11_3_one_flipped_bit_is_never_opened_and_never_lost(tablet: ATablet, key: SealingKey, byte: int) -> None:
    spoiled = flipped(sealed(tablet.event("arrived", visit_of(tablet.packet(), "Karin")["id"]), key), byte)

    (answer,) = tablet.send([spoiled])

    assert answer["status"] == "set-aside"
    assert SetAside.get().reason == "sealed"
    assert Event.get_by_id(spoiled["id"]).body == spoiled["sealed"]
    assert OpenedBody.select().count() == 0


def test_T_integrity_two_sealed_bodies_swapped_between_events_open_as_neither(tablet: ATablet, key: SealingKey) -> None:
    packet = tablet.packet()
    one = sealed(tablet.event("arrived", visit_of(packet, "Karin")["id"]), key)
    other = sealed(tablet.event("arrived", visit_of(packet, "Karen")["id"]), key)

    answers = tablet.send([{**one, "sealed": other["sealed"]}, {**other, "sealed": one["sealed"]}])

    assert [answer["status"] for answer in answers] == ["set-aside", "set-aside"]


def test_what_was_sealed_to_a_former_key_of_the_house_is_still_opened() -> None:
    former, current = os.urandom(32), os.urandom(32)
    text = seal("words", "e-1", "tablet-1", SealingKey.of(former).point, os.urandom(12))

    assert Opener.of([current, former]).open(text, "e-1", "tablet-1") == "words"
    with pytest.raises(Unopenable):
        Opener.of([current]).open(text, "e-1", "tablet-1")


def test_a_sealed_event_does_not_open_as_another_tablets() -> None:
    key = SealingKey.of(os.urandom(32))
    text = seal("words", "e-1", "tablet-1", key.point, os.urandom(12))

    with pytest.raises(Unopenable):
        Opener((key,)).open(text, "e-1", "tablet-2")
