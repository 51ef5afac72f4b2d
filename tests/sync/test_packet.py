"""What a tablet carries out: one packet for a round, replaced whole by revision, numbers never handed out twice."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Any

import pytest

from bedside.labels.barcode import is_specimen_number
from bedside.people.roles import Role
from bedside.records import order_changes
from bedside.records.moments import now
from bedside.records.sending_again import Window, send_again
from bedside.records.tables import Order, Patient, Round, SpecimenNumber, Tube
from tests.a_house import AHouse, drawn, order_row, visit_of


def names(packet: dict[str, Any]) -> list[str]:
    return [visit["patient"]["name"].split(",")[0] for visit in packet["visits"]]


def specimens(packet: dict[str, Any]) -> list[str]:
    tubes = [tube["specimen"] for visit in packet["visits"] for tube in visit["tubes"]]
    return tubes + [spare["specimen"] for spare in packet["spares"]]


def test_the_walk_begins_with_stat_and_ends_with_isolation(house: AHouse) -> None:
    packet = house.tablet().packet()

    assert names(packet) == ["Marchetti", "Ojala", "Hansen", "Hanssen", "Ek"]
    assert [visit["position"] for visit in packet["visits"]] == [1, 2, 3, 4, 5]


def test_orders_due_together_are_one_visit(house: AHouse) -> None:
    visit = visit_of(house.tablet().packet(), "Kaarina")

    assert sorted(order["test"] for order in visit["orders"]) == ["24321-2", "58410-2"]
    assert [tube["kind"] for tube in visit["tubes"]] == ["serum-gel", "edta"]


def test_a_packet_carries_the_rulebooks_very_bytes(house: AHouse) -> None:
    packet = house.tablet().packet()

    assert packet["rulebook_hash"] == "sha256:" + hashlib.sha256(packet["rulebook"].encode()).hexdigest()


def test_a_packet_says_practice_mode_while_tablets_are_not_enrolled(house: AHouse) -> None:
    assert all("Practice mode" in sentence for sentence in house.tablet().packet()["practice_mode"])


def test_similar_names_warn_each_other(house: AHouse) -> None:
    packet = house.tablet().packet()
    karin, karen, kaarina = (visit_of(packet, name) for name in ("Karin", "Karen", "Kaarina"))

    assert karin["names_alike"] == [karen["id"]]
    assert karen["names_alike"] == [karin["id"]]
    assert kaarina["names_alike"] == []


def test_a_similar_name_elsewhere_on_the_ward_is_a_note(house: AHouse) -> None:
    order = visit_of(house.tablet().packet(), "Karen")["orders"][0]["id"]
    order_changes.cancel(order, "gone home", by=house.people[Role.CHARGE_NURSE], at=now())

    karin = visit_of(house.tablet().packet(), "Karin")

    assert karin["names_alike"] == []
    assert karin["notes"] == ["Similar name on the ward: Hanssen, Karen."]


def test_a_nurses_draw_is_shown_and_on_no_round(house: AHouse) -> None:
    packet = house.tablet().packet()

    assert "Ferreira" not in names(packet)
    assert [draw["name"] for draw in packet["nurse_collect"]] == ["Ferreira, Lúcia"]


def test_fetching_again_gives_the_same_packet(house: AHouse) -> None:
    tablet = house.tablet()

    assert tablet.fetch().data == tablet.fetch().data
    assert Round.select().count() == 1


def test_every_number_has_its_check_digit_and_stands_once(house: AHouse) -> None:
    tomasz = house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST)
    first = house.tablet().packet()
    house.take_in([order_row("A-90", "Kaarina", "1988-5")])
    second = house.tablet(tomasz).packet()

    numbers = specimens(first) + specimens(second)

    assert all(is_specimen_number(number) for number in numbers)
    assert len(set(numbers)) == len(numbers)
    assert {row.number for row in SpecimenNumber.select()} == set(numbers)
    assert names(second) == ["Ojala"]


def test_two_tablets_of_one_person_share_the_tubes_and_no_spare(house: AHouse) -> None:
    first, second = house.tablet().packet(), house.tablet().packet()

    assert first["id"] == second["id"]
    assert [visit["tubes"] for visit in first["visits"]] == [visit["tubes"] for visit in second["visits"]]
    spares = [{spare["specimen"] for spare in packet["spares"]} for packet in (first, second)]
    assert len(spares[0]) == len(spares[1]) == 10
    assert spares[0] & spares[1] == set()


def test_a_used_spare_is_replaced(house: AHouse) -> None:
    tablet = house.tablet()
    before = tablet.packet()
    spare = before["spares"][0]["specimen"]
    visit = before["visits"][0]["id"]

    tablet.send([tablet.event("tube_added", visit, {"tube": "t-x", "kind": "edta", "specimen": spare})])

    after = [one["specimen"] for one in tablet.packet()["spares"]]
    assert spare not in after and len(after) == 10
    assert after[:9] == [one["specimen"] for one in before["spares"][1:]]


def test_a_new_order_joins_its_visit_and_keeps_the_labels_that_stand(house: AHouse) -> None:
    tablet = house.tablet()
    before = tablet.packet()
    house.take_in([order_row("A-91", "Karin", "58410-2")])

    after = tablet.packet()

    old, new = visit_of(before, "Karin"), visit_of(after, "Karin")
    assert after["id"] == before["id"] and after["revision"] > before["revision"]
    assert new["id"] == old["id"]
    assert [tube["kind"] for tube in new["tubes"]] == ["serum-gel", "edta"]
    assert new["tubes"][0]["specimen"] == old["tubes"][0]["specimen"]


def test_a_cancelled_order_leaves_and_its_tube_is_withdrawn_not_forgotten(house: AHouse) -> None:
    tablet = house.tablet()
    before = visit_of(tablet.packet(), "Kaarina")
    counts = next(order["id"] for order in before["orders"] if order["test"] == "58410-2")
    order_changes.cancel(counts, "not needed", by=house.people[Role.CHARGE_NURSE], at=now())

    after = visit_of(tablet.packet(), "Kaarina")

    assert [order["test"] for order in after["orders"]] == ["24321-2"]
    assert [tube["kind"] for tube in after["tubes"]] == ["serum-gel"]
    edta = next(tube["id"] for tube in before["tubes"] if tube["kind"] == "edta")
    assert Tube.get_by_id(edta).withdrawn_at is not None


def test_a_visit_all_of_whose_orders_are_held_leaves_the_packet_and_comes_back(house: AHouse) -> None:
    tablet = house.tablet()
    order = visit_of(tablet.packet(), "Karin")["orders"][0]["id"]
    nurse = house.people[Role.CHARGE_NURSE]

    order_changes.hold(order, "patient asleep", by=nurse, at=now())
    assert "Hansen" not in names(tablet.packet())
    order_changes.release(order, by=nurse, at=now())
    assert "Hansen" in names(tablet.packet())


def test_a_visit_under_way_keeps_the_plan_it_began_with(house: AHouse) -> None:
    tablet = house.tablet()
    before = visit_of(tablet.packet(), "Karin")
    tablet.send([tablet.event("arrived", before["id"])])
    house.take_in([order_row("A-92", "Karin", "58410-2")])

    packet = tablet.packet()

    karins = [visit for visit in packet["visits"] if visit["patient"]["name"] == "Hansen, Karin"]
    assert karins[0]["id"] == before["id"]
    assert karins[0]["tubes"] == before["tubes"]
    assert [order["test"] for visit in karins[1:] for order in visit["orders"]] == ["58410-2"]


def test_a_visit_drawn_by_an_older_packet_is_judged_by_the_tubes_it_used(house: AHouse) -> None:
    tablet = house.tablet()
    before = visit_of(tablet.packet(), "Karin")
    Order.update(test="24325-3").where(Order.id == before["orders"][0]["id"]).execute()
    after = visit_of(tablet.packet(), "Karin")
    assert after["tubes"][0]["specimen"] != before["tubes"][0]["specimen"]

    answers = tablet.send(drawn(tablet, before))

    assert {answer["status"] for answer in answers} == {"stored"}


def test_a_bed_begun_on_one_tablet_is_said_to_the_other(house: AHouse) -> None:
    first, second = house.tablet(), house.tablet()
    karin = visit_of(first.packet(), "Karin")
    before = second.packet()
    assert [visit["begun"] for visit in before["visits"]] == [None] * 5

    first.send([first.event("arrived", karin["id"])])

    assert second.hello().get_json()["revision"] > before["revision"]
    after = second.packet()
    assert visit_of(after, "Karin")["begun"] == {"at": "2026-11-25T07:00:01.000Z", "by": "p-ines", "tablet": None}
    assert visit_of(after, "Kaarina")["begun"] is None


def test_what_goes_on_at_a_begun_bed_asks_nobody_for_a_new_packet(house: AHouse) -> None:
    first, second = house.tablet(), house.tablet()
    karin = visit_of(first.packet(), "Karin")
    second.packet()
    first.send([first.event("arrived", karin["id"])])
    begun = second.packet()["revision"]

    first.send([first.event("asked", karin["id"], {"question": "consent", "answer": "yes"})])

    assert second.hello().get_json()["revision"] == begun


def test_with_one_tablet_a_begun_bed_is_no_reason_for_a_new_packet(house: AHouse) -> None:
    tablet = house.tablet()
    packet = tablet.packet()

    tablet.send([tablet.event("arrived", visit_of(packet, "Karin")["id"])])

    assert tablet.hello().get_json()["revision"] == packet["revision"]


def test_a_flag_reaches_the_phlebotomist_as_a_note(house: AHouse) -> None:
    tablet = house.tablet()
    order = visit_of(tablet.packet(), "Karin")["orders"][0]["id"]

    order_changes.flag(order, "hard of hearing", by=house.people[Role.CHARGE_NURSE], at=now())

    assert "Flagged: hard of hearing" in visit_of(tablet.packet(), "Karin")["notes"]


def test_an_ended_visit_says_so_and_an_away_patient_is_visited_again(house: AHouse) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")
    tablet.send([tablet.event("arrived", karin["id"]), tablet.event("visit_ended", karin["id"], {"outcome": "away"})])

    visits = [one for one in tablet.packet()["visits"] if one["patient"]["name"] == "Hansen, Karin"]

    assert [visit["ended"] and visit["ended"]["outcome"] for visit in visits] == ["away", None]
    assert visits[0]["orders"][0]["id"] == visits[1]["orders"][0]["id"]


@pytest.mark.parametrize("outcome", ["refused", "no_identity", "no_vein", "handed_over", "partly", "unsafe"])
def test_after_most_outcomes_nobody_is_sent_again_by_itself(house: AHouse, outcome: str) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")
    tablet.send([tablet.event("arrived", karin["id"]), tablet.event("visit_ended", karin["id"], {"outcome": outcome})])

    assert names(tablet.packet()).count("Hansen") == 1


def test_after_no_vein_somebody_else_is_sent_once_a_person_says_so(house: AHouse) -> None:
    tablet, tomasz = house.tablet(), house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST)
    karin = visit_of(tablet.packet(), "Karin")
    tablet.send(
        [tablet.event("arrived", karin["id"]), tablet.event("visit_ended", karin["id"], {"outcome": "no_vein"})]
    )
    assert names(house.tablet(tomasz).packet()) == []

    send_again(
        [karin["orders"][0]["id"]], Window(due_from=now(), due_to=now() + timedelta(hours=1)), None, "",
        by=house.people[Role.CHARGE_NURSE], at=now(),
    )  # fmt: skip

    assert names(tablet.packet()).count("Hansen") == 1
    assert names(house.tablet(tomasz).packet()) == ["Hansen"]


def test_a_stat_order_that_comes_in_while_she_walks_is_on_her_next_packet(house: AHouse) -> None:
    tablet = house.tablet()
    before = tablet.packet()
    house.take_in([order_row("A-96", "Bo", "58410-2", "stat")])

    told = tablet.hello().get_json()["revision"]
    after = tablet.packet()

    assert told > before["revision"] and after["revision"] >= told
    assert (after["id"], after["round"]) == (before["id"], before["round"])
    stat = next(visit for visit in after["visits"] if visit["priority"] == "stat" and visit["room"] == "2")
    assert {order["test"] for order in stat["orders"]} == {"24321-2", "58410-2"}


def test_a_patient_who_was_away_makes_the_other_tablets_ask_for_a_new_packet(house: AHouse) -> None:
    tablet = house.tablet()
    packet = tablet.packet()
    karin = visit_of(packet, "Karin")

    tablet.send([tablet.event("arrived", karin["id"]), tablet.event("visit_ended", karin["id"], {"outcome": "away"})])

    assert tablet.hello().get_json()["revision"] > packet["revision"]


def test_blood_drawn_elsewhere_today_counts_against_the_limit(house: AHouse) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")
    tablet.ms = round(now().timestamp() * 1000) - 600_000
    tablet.send(drawn(tablet, karin))
    house.take_in([order_row("A-93", "Karin", "58410-2")])

    visits = [one for one in tablet.packet()["visits"] if one["patient"]["name"] == "Hansen, Karin"]

    filled = sum(tube["nominal_ml"] for tube in karin["tubes"])
    assert [visit["patient"]["drawn_24h_ml"] for visit in visits] == [0.0, filled]


def test_every_tube_has_a_label_with_its_own_number_as_a_bar_code(house: AHouse) -> None:
    tubes = [tube for visit in house.tablet().packet()["visits"] for tube in visit["tubes"]]

    for tube in tubes:
        assert set(tube["label"]["bars"]["modules"]) == {"0", "1"}
        assert any(tube["specimen"] in text["text"].replace(" ", "") for text in tube["label"]["texts"])


def test_a_test_the_directory_does_not_know_is_said_before_the_door(house: AHouse) -> None:
    tablet = house.tablet()
    order = visit_of(tablet.packet(), "Karin")["orders"][0]["id"]
    Order.update(test="NOPE").where(Order.id == order).execute()

    visit = visit_of(tablet.packet(), "Karin")

    assert visit["notes"] == [
        "NOPE is not in the built-in directory. Ask the laboratory which tube it needs before you go in."
    ]
    assert visit["orders"][0]["in_directory"] is False
    assert visit["tubes"] == []


def test_a_child_without_a_weight_is_not_to_be_drawn(house: AHouse) -> None:
    Patient.update(birth_date="2020-05-05").where(Patient.family == "Hansen").execute()

    visit = visit_of(house.tablet().packet(), "Karin")

    assert visit["limits"]["max_draw_ml"] == 0
    assert [finding["code"] for finding in visit["plan_findings"]] == ["volume-over-limit"]


def test_a_new_weight_changes_what_a_child_may_give_and_keeps_its_labels(house: AHouse) -> None:
    Patient.update(birth_date="2015-05-05", weight_kg=30.0).where(Patient.family.in_(["Hansen", "Ojala"])).execute()
    tablet = house.tablet()
    before = tablet.packet()
    Patient.update(weight_kg=12.0).where(Patient.family == "Hansen").execute()

    after = tablet.packet()

    limits = [visit_of(packet, "Karin")["limits"]["max_draw_ml"] for packet in (before, after)]
    assert limits[1] < limits[0]
    assert after["revision"] > before["revision"]
    assert visit_of(after, "Karin")["tubes"] == visit_of(before, "Karin")["tubes"]


def test_a_child_is_planned_for_a_winged_set_and_its_first_citrate_gets_a_discard(house: AHouse) -> None:
    house.take_in([order_row("A-97", "Karin", "6301-6"), order_row("A-98", "Karen", "6301-6")])
    Patient.update(birth_date="2015-05-05", weight_kg=30.0).where(Patient.family == "Hansen").execute()

    packet = house.tablet().packet()

    child, grown = (visit_of(packet, name) for name in ("Karin", "Karen"))
    assert (child["needle"], grown["needle"]) == ("winged", "straight")
    assert [tube["kind"] for tube in child["tubes"]] == ["discard", "citrate", "serum-gel"]
    assert [tube["kind"] for tube in grown["tubes"]] == ["citrate", "serum-gel"]


def test_what_is_most_pressing_stands_first_on_a_label_and_in_lists(house: AHouse) -> None:
    house.take_in([order_row("A-99", "Kaarina", "1988-5", "stat")])

    visit = visit_of(house.tablet().packet(), "Kaarina")

    assert [order["test"] for order in visit["orders"]] == ["1988-5", "58410-2", "24321-2"]
    shared = next(tube for tube in visit["tubes"] if "1988-5" in tube["tests"])
    assert shared["tests"] == ["1988-5", "24321-2"]
    printed = " ".join(text["text"] for text in shared["label"]["texts"])
    assert printed.index("CRP") < printed.index("BMP")
