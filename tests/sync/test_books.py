"""Which rulebook counts, and that a new one is asked about everything that happened before."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from bedside.clinical.rulebook import default_book
from bedside.people.roles import Role
from bedside.records.database import writing
from bedside.records.moments import as_text, now, read_moment
from bedside.records.tables import FindingNow, Rulebook, VisitNow
from bedside.sync.books import book_in_force, book_of
from bedside.sync.signing import propose_change, sign
from bedside.sync.standing import catch_up
from bedside.sync.verifying import projection_faults
from tests.a_house import AHouse, ATablet, drawn, visit_of


def publish(house: AHouse, **limits: float) -> str:
    """A stricter edition, signed by the safety officer; gives its hash."""
    officer = house.people[Role.SAFETY_OFFICER]
    proposal = propose_change(limits, "", by=officer, at=now())
    assert sign(proposal, by=officer, role=Role.SAFETY_OFFICER, at=now()) is not None
    return book_in_force().hash


def with_book(event: dict[str, Any], digest: str) -> dict[str, Any]:
    return {**event, "body": json.dumps({**json.loads(event["body"]), "rulebook": digest})}


def drawn_under_a_band(tablet: ATablet, visit: dict[str, Any], seconds: float, digest: str) -> list[dict[str, Any]]:
    """A whole visit whose tourniquet was on for so long, worked by one rulebook."""
    events = drawn(tablet, visit)
    bodies = [json.loads(event["body"]) for event in events]
    on, off = (next(body["mono_ms"] for body in bodies if body["kind"] == f"tourniquet_{at}") for at in ("on", "off"))
    longer_ms = seconds * 1000 - (off - on)
    return [
        with_book({**event, "body": json.dumps(later(body, longer_ms) if body["mono_ms"] >= off else body)}, digest)
        for event, body in zip(events, bodies, strict=True)
    ]


def later(body: dict[str, Any], by_ms: float) -> dict[str, Any]:
    at = read_moment(body["at"]).timestamp() + by_ms / 1000
    return {**body, "mono_ms": body["mono_ms"] + by_ms, "at": as_text(datetime.fromtimestamp(at, UTC))}


def codes(visit: dict[str, Any]) -> list[str]:
    return [row.code for row in FindingNow.select().where(FindingNow.visit == visit["id"])]


def faults() -> list[Any]:
    return [fault for _, fault in projection_faults() if fault]


def test_the_house_keeps_the_bytes_its_packets_carry(house: AHouse) -> None:
    packet = house.tablet().packet()

    assert Rulebook.get_by_id(packet["rulebook_hash"]).text == packet["rulebook"]


def test_a_signed_edition_goes_out_in_the_next_packet_with_a_higher_revision(house: AHouse) -> None:
    tablet = house.tablet()
    before = tablet.packet()

    digest = publish(house, tourniquet_max_s=45)

    after = tablet.packet()
    assert after["rulebook_hash"] == digest != before["rulebook_hash"]
    assert after["revision"] > before["revision"]
    assert json.loads(after["rulebook"])["limits"]["tourniquet_max_s"]["value"] == 45
    assert Rulebook.get_by_id(digest).text == after["rulebook"]


def test_fifty_seconds_are_judged_by_the_book_of_their_day(house: AHouse) -> None:
    """60 s were allowed when Karin was drawn, 45 s when Karen was; each visit keeps the rules it was worked by."""
    tablet = house.tablet()
    packet = tablet.packet()
    karin, karen = visit_of(packet, "Karin"), visit_of(packet, "Karen")
    sixty = packet["rulebook_hash"]
    tablet.send(drawn_under_a_band(tablet, karin, 50, sixty))

    forty_five = publish(house, tourniquet_max_s=45)
    tablet.send(drawn_under_a_band(tablet, karen, 50, forty_five))

    assert codes(karin) == []
    assert codes(karen) == ["tourniquet-too-long"]
    assert [VisitNow.get_by_id(visit["id"]).rulebook for visit in (karin, karen)] == [sixty, forty_five]
    assert [VisitNow.get_by_id(visit["id"]).tourniquet_longest_s for visit in (karin, karen)] == [50, 50]
    assert faults() == []


def test_a_visit_worked_by_the_old_book_and_sent_under_the_new_one_is_judged_by_the_old(house: AHouse) -> None:
    tablet = house.tablet()
    packet = tablet.packet()
    publish(house, tourniquet_max_s=45)

    tablet.send(drawn_under_a_band(tablet, visit_of(packet, "Karin"), 50, packet["rulebook_hash"]))

    assert codes(visit_of(packet, "Karin")) == []


def test_an_unknown_book_is_judged_by_todays_and_both_are_kept(house: AHouse) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")

    tablet.send([with_book(event, "sha256:unheard-of") for event in drawn(tablet, karin)])

    row = VisitNow.get_by_id(karin["id"])
    assert (row.rulebook, row.rulebook_held) == (default_book().hash, "sha256:unheard-of")


def test_when_another_book_comes_into_force_what_knew_no_book_is_judged_again(house: AHouse) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")
    tablet.send(drawn_under_a_band(tablet, karin, 50, "sha256:unheard-of"))
    assert codes(karin) == []

    publish(house, tourniquet_max_s=45)

    assert codes(karin) == ["tourniquet-too-long"]
    assert faults() == []


def test_a_second_edition_keeps_what_the_first_one_set(house: AHouse) -> None:
    first = publish(house, tourniquet_max_s=50)
    publish(house, skin_dry_s=45)

    book = book_in_force()
    assert (book.edition, book.value("tourniquet_max_s"), book.value("skin_dry_s")) == (2, 50, 45)
    assert book_of(first).text == Rulebook.get_by_id(first).text
    assert book_of(first).value("skin_dry_s") == 30


def test_a_kept_book_this_release_cannot_read_gives_way_to_todays(house: AHouse) -> None:
    at = as_text(now())
    Rulebook.insert(hash="sha256:x", text="{}", since=at, published_at=at).execute()

    assert book_of("sha256:x").hash == book_in_force().hash


def test_an_old_book_that_lacks_a_limit_still_judges_by_its_own_numbers(house: AHouse) -> None:
    told = json.loads(default_book().text)
    told["limits"]["tourniquet_max_s"]["value"] = 50
    del told["limits"]["look_min_s"]
    at = as_text(now())
    Rulebook.insert(hash="sha256:old", text=json.dumps(told), since=at, published_at=at).execute()

    book = book_of("sha256:old")

    assert (book.value("tourniquet_max_s"), book.value("look_min_s")) == (50, 5)
    assert book.hash != "sha256:old"


def test_nothing_is_judged_again_while_the_same_book_is_in_force(house: AHouse) -> None:
    publish(house, tourniquet_max_s=45)
    before = list(FindingNow.select().dicts())

    with writing():
        catch_up(now())

    assert list(FindingNow.select().dicts()) == before
