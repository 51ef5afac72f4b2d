"""What is found only where events meet the house: the same order drawn twice, blood for a cancelled order."""

from __future__ import annotations

from typing import Any

import pytest

from bedside.clinical.rulebook import default_book
from bedside.people.roles import Role
from bedside.records import order_changes
from bedside.records.database import writing
from bedside.records.finding_reviews import settle
from bedside.records.moments import now
from bedside.records.order_standing import restate
from bedside.records.tables import FindingNow, Order, OrderNow, VisitNow
from bedside.rounds.taking_out import hand_back
from bedside.sync.meeting import Fill, differs, drawn_twice, is_drawn_after_cancel
from bedside.sync.verifying import checks
from tests.a_house import AHouse, drawn, visit_of


def fill(order: str, visit: str, at_ms: float, event: str) -> Fill:
    return Fill(order=order, visit=visit, at_ms=at_ms, event=event)


def found(code: str) -> list[tuple[str, str | None]]:
    return [(row.visit_id, row.event) for row in FindingNow.select().where(FindingNow.code == code)]


def state(order: str) -> str:
    return str(OrderNow.get_by_id(order).state)


def test_the_later_of_two_draws_of_an_order_is_the_second() -> None:
    fills = [fill("o-1", "v-b", 200, "e-2"), fill("o-1", "v-a", 100, "e-1"), fill("o-1", "v-b", 300, "e-3")]

    twice = drawn_twice(fills, default_book())

    assert {visit: [one.event for one in findings] for visit, findings in twice.items()} == {"v-b": ["e-2"]}


def test_two_tubes_of_one_visit_are_not_drawn_twice() -> None:
    assert drawn_twice([fill("o-1", "v-a", 1, "e-1"), fill("o-1", "v-a", 2, "e-2")], default_book()) == {}


@pytest.mark.parametrize(
    ("filled", "cancelled", "live", "expected"),
    [
        ([["a"]], {"a"}, set(), True),
        ([["a", "b"]], {"a"}, {"b"}, False),
        ([["b"]], {"a"}, {"b"}, False),
        ([], {"a"}, set(), False),
    ],
)
def test_a_tube_that_also_serves_another_order_is_not_drawn_after_cancel(
    filled: list[list[str]], cancelled: set[str], live: set[str], expected: bool
) -> None:
    assert is_drawn_after_cancel(filled, frozenset(cancelled), frozenset(live)) is expected


def test_verdicts_are_compared_whatever_their_order_and_without_what_a_tablet_cannot_know() -> None:
    ours = [["a", "stop", "e-1"], ["b", "ask", None]]

    assert not differs([["b", "ask", None], ["drawn-after-cancel", "ask", "e-2"], ["a", "stop", "e-1"]], ours)
    assert differs([["a", "ask", "e-1"], ["b", "ask", None]], ours)


def test_blood_for_an_order_cancelled_while_the_tablet_was_away_meets_it_as_a_finding(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    order = visit["orders"][0]["id"]
    order_changes.cancel(order, "not needed", by=house.people[Role.CHARGE_NURSE], at=now())
    assert state(order) == "cancelled"

    tablet.send(drawn(tablet, visit))

    assert [where for where, _ in found("drawn-after-cancel")] == [visit["id"]]
    assert state(order) == "collected"
    assert Order.get_by_id(order).cancel_reason == "not needed"


@pytest.mark.parametrize(("decision", "stands"), [("discarded", "cancelled"), ("kept", "collected")])
def test_blood_drawn_after_a_cancellation_counts_only_where_it_is_kept(
    house: AHouse, decision: str, stands: str
) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    order = visit["orders"][0]["id"]
    order_changes.cancel(order, "not needed", by=house.people[Role.CHARGE_NURSE], at=now())
    tablet.send(drawn(tablet, visit))
    event = FindingNow.get(FindingNow.code == "drawn-after-cancel").event

    with writing():
        key = (visit["id"], "drawn-after-cancel", event)
        settle(key, decision, "the laboratory was asked", by=house.people[Role.CHARGE_NURSE], at=now())
        restate([order])

    assert state(order) == stands
    assert [one.fault for one in checks() if one.fault] == []


def test_the_same_order_drawn_on_two_rounds_is_said_once_on_the_later_one(house: AHouse) -> None:
    ines, tomasz = house.tablet(), house.tablet(house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST))
    first = visit_of(ines.packet(), "Karin")
    with writing():
        hand_back(house.people[Role.PHLEBOTOMIST], now(), "house")
    second = visit_of(tomasz.packet(), "Karin")
    assert [order["id"] for order in first["orders"]] == [order["id"] for order in second["orders"]]

    later = drawn(ines, first)
    tomasz.ms = ines.ms + 3_600_000
    tomasz.send(drawn(tomasz, second))
    assert found("drawn-twice") == []
    ines.send(later)

    assert [where for where, _ in found("drawn-twice")] == [second["id"]]
    assert VisitNow.get_by_id(second["id"]).worst == "ask"


def test_a_discarded_tube_does_not_make_the_second_draw_a_second(house: AHouse) -> None:
    ines, tomasz = house.tablet(), house.tablet(house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST))
    first: dict[str, Any] = visit_of(ines.packet(), "Karin")
    with writing():
        hand_back(house.people[Role.PHLEBOTOMIST], now(), "house")
    second = visit_of(tomasz.packet(), "Karin")

    tube = first["tubes"][0]["id"]
    ines.send([*drawn(ines, first), ines.event("tube_discarded", first["id"], {"tube": tube, "reason": "clotted"})])
    tomasz.send(drawn(tomasz, second))

    assert found("drawn-twice") == []
