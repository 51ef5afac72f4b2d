"""What was learnt of a patient after a tablet left: a visit is judged by what it knew, and somebody is asked."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from bedside.exchange.orders_in import take_in_orders
from bedside.people.roles import Role
from bedside.records import patient_changes
from bedside.records.moments import now
from bedside.records.tables import FindingNow, Patient
from bedside.sync.verifying import checks
from bedside.sync.while_away import drawn_while_away
from tests.a_house import AHouse, ATablet, drawn, order_row, visit_of


def close(house: AHouse, visit: dict[str, Any], side: str, at: datetime) -> None:
    patient_changes.close_arm(visit["patient"]["id"], side, "iv", by=house.people[Role.CHARGE_NURSE], at=at)


def stops(visit: dict[str, Any]) -> list[str]:
    rows = FindingNow.select().where((FindingNow.visit == visit["id"]) & (FindingNow.severity == "stop"))
    return [row.code for row in rows]


def draw(tablet: ATablet, visit: dict[str, Any], begins: datetime) -> None:
    """A whole draw from the right arm, with the tablet's clock set so that it begins then."""
    tablet.ms = round(begins.timestamp() * 1000)
    tablet.send(drawn(tablet, visit))


def faults() -> list[str | None]:
    return [one.fault for one in checks() if one.fault]


def test_an_arm_closed_after_the_draw_does_not_make_it_a_stop(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    draw(tablet, visit, now() - timedelta(minutes=30))

    close(house, visit, "right", now())
    house.take_in([order_row("A-71", "Karin", "58410-2")])

    assert stops(visit) == []
    assert drawn_while_away({visit["id"]}) == []
    assert faults() == []


def test_an_arm_closed_while_the_tablet_was_away_is_a_question_and_no_stop(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    closed = now() + timedelta(minutes=5)
    close(house, visit, "right", closed)

    draw(tablet, visit, closed + timedelta(minutes=5))

    (found,) = drawn_while_away({visit["id"]})
    assert (found.visit, found.side, found.closed_at < found.drawn_at) == (visit["id"], "right", True)
    assert stops(visit) == []
    assert faults() == []


def test_the_other_arm_closed_while_away_is_no_question(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    close(house, visit, "left", now() + timedelta(minutes=5))

    draw(tablet, visit, now() + timedelta(minutes=10))

    assert drawn_while_away({visit["id"]}) == []


def test_an_arm_that_was_open_again_by_then_is_no_question(house: AHouse) -> None:
    tablet, nurse = house.tablet(), house.people[Role.CHARGE_NURSE]
    visit = visit_of(tablet.packet(), "Karin")
    close(house, visit, "right", now() + timedelta(minutes=1))
    patient_changes.open_arm(visit["patient"]["id"], "right", by=nurse, at=now() + timedelta(minutes=2))

    draw(tablet, visit, now() + timedelta(minutes=10))

    assert drawn_while_away({visit["id"]}) == []


def test_an_arm_the_packet_named_as_closed_is_a_stop_and_stays_one(house: AHouse) -> None:
    tablet, nurse = house.tablet(), house.people[Role.CHARGE_NURSE]
    visit = visit_of(tablet.packet(), "Karin")
    close(house, visit, "right", now())
    visit = visit_of(tablet.packet(), "Karin")
    assert visit["patient"]["restrictions"] == [{"side": "right", "why": "iv"}]

    draw(tablet, visit, now() + timedelta(minutes=10))
    patient_changes.open_arm(visit["patient"]["id"], "right", by=nurse, at=now() + timedelta(minutes=20))
    house.take_in([order_row("A-72", "Karin", "58410-2")])

    assert set(stops(visit)) == {"site-restricted"}
    assert drawn_while_away({visit["id"]}) == []
    assert faults() == []


def take_in_that(row: dict[str, str], **facts: str) -> None:
    """An orders file of one line that says more about the patient."""
    told = {**row, **facts}
    text = ",".join(told) + "\n" + ",".join(told.values()) + "\n"
    take_in_orders(text.encode(), file_name="more.csv", at=now())


def test_an_orders_file_that_changes_what_is_known_of_a_patient_leaves_the_past_as_it_was(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    draw(tablet, visit, now() - timedelta(minutes=30))

    take_in_that(order_row("A-73", "Karin", "58410-2"), blood_thinner="yes", restrictions="right:fistula")

    assert Patient.get_by_id(visit["patient"]["id"]).blood_thinner is True
    assert stops(visit) == []
    assert faults() == []


def test_what_an_orders_file_said_before_the_packet_counts_for_the_visit(house: AHouse) -> None:
    """150 s of pressure: enough for anybody, too little on a blood thinner (practice: 300 s)."""
    take_in_that(order_row("A-74", "Karin", "58410-2"), blood_thinner="yes")
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")

    draw(tablet, visit, now() + timedelta(minutes=1))
    take_in_that(order_row("A-75", "Karin", "24325-3"), blood_thinner="no")

    assert stops(visit) == ["pressure-short"]
    assert faults() == []
