"""A packet is taken whole or not at all, and a visit keeps the one it began with."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .stand_in import StandIn, make_packet
from .tablet import Tablet

REFRESH = "engine.refreshPacket().then(packet => packet.revision, error => error.name)"


def test_a_packet_is_there_without_the_network(tablet: Tablet, stand_in: StandIn):
    tablet.opens_offline()
    stand_in.stop()

    tablet.reload()

    assert tablet.page.evaluate("engine.packet()") == stand_in.packet


@pytest.mark.parametrize(
    ("change", "name"),
    [
        (lambda packet: packet.pop("visits"), "no visits"),
        (lambda packet: packet.update(schema=2), "of a later form"),
        (lambda packet: packet.update(house="h-other"), "of another house"),
        (lambda packet: packet.update(rulebook=packet["rulebook"] + " "), "the rulebook is not the one of the hash"),
        (lambda packet: packet["visits"][0]["patient"].pop("birth_date"), "a patient without a birth date"),
        (lambda packet: packet["visits"][0]["tubes"][0].pop("specimen"), "a tube without a number"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_damaged_packet_is_refused_and_the_one_held_stays(
    tablet: Tablet, stand_in: StandIn, change: Callable[[dict], object], name: str
):
    stand_in.packet = make_packet(2)
    change(stand_in.packet)

    assert tablet.page.evaluate(REFRESH) == "PacketBroken"

    assert tablet.page.evaluate("engine.packet().then(packet => packet.revision)") == 1


def test_a_visit_under_way_keeps_the_packet_it_began_with(tablet: Tablet, stand_in: StandIn):
    tablet.record("v-kaarina")
    stand_in.packet = make_packet(2)
    assert tablet.page.evaluate(REFRESH) == 2

    revision_of = "visit => engine.packetFor(visit).then(packet => packet.revision)"
    assert tablet.page.evaluate(revision_of, "v-kaarina") == 1
    assert tablet.page.evaluate(revision_of, "v-next") == 2
    tablet.reload()
    tablet.record("v-kaarina")
    assert tablet.page.evaluate(revision_of, "v-kaarina") == 1


def test_packets_no_visit_began_with_are_dropped(tablet: Tablet, stand_in: StandIn):
    tablet.record("v-kaarina")
    for revision in (2, 3, 4):
        stand_in.packet = make_packet(revision)
        assert tablet.page.evaluate(REFRESH) == revision

    kept = tablet.page.evaluate(
        """() => new Promise(done => {
          indexedDB.open("bedside-h-stand-in").onsuccess = ({ target }) => {
            target.result.transaction("packets").objectStore("packets").getAllKeys().onsuccess = event => {
              target.result.close();
              done(event.target.result);
            };
          };
        })"""
    )
    assert len(kept) == 2  # the one the visit began with and the newest; their names cannot be read


def test_a_newer_revision_is_fetched_when_an_answer_names_it(tablet: Tablet, stand_in: StandIn):
    tablet.page.evaluate("void (window.came = new Promise(tell => engine.onPacket(tell)))")
    stand_in.packet, stand_in.revision = make_packet(2), 2

    tablet.record()

    assert tablet.page.evaluate("came.then(packet => packet.revision)") == 2


def test_another_person_gets_another_packet(tablet: Tablet, stand_in: StandIn):
    tablet.page.evaluate("void (window.came = new Promise(tell => engine.onPacket(tell)))")
    stand_in.person = {"id": "p-tomasz", "name": "Tomasz Wrona", "role": "phlebotomist"}
    stand_in.packet = make_packet(1, id="k-2", by="p-tomasz")

    tablet.unlock(stand_in.person)

    assert tablet.page.evaluate("came.then(packet => packet.id)") == "k-2"
    assert tablet.record("v-new")["body"]["by"] == "p-tomasz"


def test_a_house_without_a_round_for_this_person_is_not_asked_without_end(tablet: Tablet, stand_in: StandIn):
    stand_in.packet, stand_in.revision = None, 2
    assert tablet.page.evaluate(REFRESH) == "NoPacket"
    tablet.record()
    tablet.all_sent()
    asked = stand_in.asked("/tablet/packet")

    for _ in range(3):
        tablet.record()
        tablet.all_sent()

    assert stand_in.asked("/tablet/packet") - asked <= 1


def test_each_spare_is_handed_out_once_even_to_two_tabs(tablet: Tablet, another_tab: Callable[[], Tablet]):
    other = another_tab()

    taken = [tab.page.evaluate("engine.takeSpare()") for tab in (tablet, other, tablet)]

    assert [spare and spare["specimen"] for spare in taken] == ["0000000017", "0000000024", None]


def test_the_tablet_names_itself_when_it_asks_for_a_packet(tablet: Tablet, stand_in: StandIn):
    assert stand_in.holders
    assert set(stand_in.holders) == {tablet.status()["tablet"]}
