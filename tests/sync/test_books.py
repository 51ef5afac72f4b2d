"""Which rulebook counts, and that a new one is asked about everything that happened before."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime, timedelta
from typing import Any

from bedside.clinical.rulebook import default_book
from bedside.people.roles import Role
from bedside.records.database import writing
from bedside.records.moments import as_text, now
from bedside.records.tables import FindingNow, Rulebook, VisitNow
from bedside.sync.standing import catch_up
from bedside.sync.verifying import projection_faults
from tests.a_house import AHouse, drawn, visit_of


def publish(house: AHouse, since: datetime | None = None, **limits: float) -> str:
    """A site's edition with other limits, signed by the safety officer; gives its hash."""
    told = json.loads(default_book().text)
    for name, value in limits.items():
        told["limits"][name]["value"] = value
    text = json.dumps(told, ensure_ascii=False, indent=1)
    digest = "sha256:" + hashlib.sha256(text.encode()).hexdigest()
    at = as_text(since or now())
    signed_by = house.people[Role.SAFETY_OFFICER]
    Rulebook.insert(hash=digest, text=text, since=at, published_at=at, signed_by=signed_by).execute()
    return digest


def codes() -> list[str]:
    return [row.code for row in FindingNow.select()]


def faults() -> list[Any]:
    return [fault for _, fault in projection_faults() if fault]


def test_the_house_keeps_the_bytes_its_packets_carry(house: AHouse) -> None:
    packet = house.tablet().packet()

    assert Rulebook.get_by_id(packet["rulebook_hash"]).text == packet["rulebook"]


def test_a_signed_edition_goes_out_in_the_next_packet(house: AHouse) -> None:
    digest = publish(house, tourniquet_max_s=45)

    assert house.tablet().packet()["rulebook_hash"] == digest


def test_an_edition_that_begins_tomorrow_waits_until_then(house: AHouse) -> None:
    publish(house, since=now() + timedelta(days=1), tourniquet_max_s=45)

    assert house.tablet().packet()["rulebook_hash"] == default_book().hash


def test_a_visit_is_judged_by_the_book_the_tablet_held(house: AHouse) -> None:
    tablet = house.tablet()
    packet = tablet.packet()
    strict = publish(house, tourniquet_max_s=5)
    karin, karen = visit_of(packet, "Karin"), visit_of(packet, "Karen")

    tablet.send([with_book(event, packet["rulebook_hash"]) for event in drawn(tablet, karin)])
    assert codes() == []
    tablet.send([with_book(event, strict) for event in drawn(tablet, karen)])

    assert codes() == ["tourniquet-too-long"]
    assert VisitNow.get_by_id(karen["id"]).rulebook == strict


def test_an_unknown_book_is_judged_by_todays_and_both_are_kept(house: AHouse) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")

    tablet.send([with_book(event, "sha256:unheard-of") for event in drawn(tablet, karin)])

    row = VisitNow.get_by_id(karin["id"])
    assert (row.rulebook, row.rulebook_held) == (default_book().hash, "sha256:unheard-of")


def test_when_another_book_comes_into_force_what_knew_no_book_is_judged_again(house: AHouse) -> None:
    tablet = house.tablet()
    tablet.send(drawn(tablet, visit_of(tablet.packet(), "Karin")))
    assert codes() == []
    publish(house, tourniquet_max_s=5)

    with writing():
        catch_up(now())

    assert codes() == ["tourniquet-too-long"]
    assert faults() == []


def test_a_book_this_release_cannot_read_gives_way_to_the_built_in_one(house: AHouse) -> None:
    at = as_text(now())
    signed_by = house.people[Role.SAFETY_OFFICER]
    Rulebook.insert(hash="sha256:x", text="{}", since=at, published_at=at, signed_by=signed_by).execute()

    assert house.tablet().packet()["rulebook_hash"] == default_book().hash


def with_book(event: dict[str, Any], digest: str) -> dict[str, Any]:
    return {**event, "body": json.dumps({**json.loads(event["body"]), "rulebook": digest})}
