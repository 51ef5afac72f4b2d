"""What the charge nurse may change about an order, and what becomes of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records import audit, order_changes
from bedside.records.house import house as house_row
from bedside.records.moments import now
from bedside.records.order_changes import OrderChangeRefused
from bedside.records.order_standing import Again, Asked, Attempt, stand
from bedside.records.tables import Order, OrderNow
from tests.a_house import AHouse, drawn, visit_of


def an_order() -> str:
    return str(Order.get(Order.number == "A-2").id)


def state(order: str) -> str:
    return str(OrderNow.get_by_id(order).state)


def test_each_change_raises_the_revision_and_is_written_down(house: AHouse) -> None:
    order, nurse = an_order(), house.people[Role.CHARGE_NURSE]
    before = house_row().revision

    order_changes.hold(order, "asleep", by=nurse, at=now())
    order_changes.release(order, by=nurse, at=now())
    order_changes.flag(order, "deaf", by=nurse, at=now())
    order_changes.unflag(order, by=nurse, at=now())
    order_changes.cancel(order, "not needed", by=nurse, at=now())

    assert house_row().revision == before + 5
    assert [entry.action for entry in audit.entries() if entry.object == order] == [
        "order held", "order released", "order flagged", "order unflagged", "order cancelled",
    ]  # fmt: skip
    assert state(order) == "cancelled"


@pytest.mark.parametrize("change", [order_changes.cancel, order_changes.hold, order_changes.flag])
def test_a_change_without_a_reason_is_refused(house: AHouse, change: Callable[..., None]) -> None:
    with pytest.raises(OrderChangeRefused, match="needs a reason"):
        change(an_order(), "  ", by=house.people[Role.CHARGE_NURSE], at=now())


@pytest.mark.parametrize("change", [order_changes.cancel, order_changes.hold, order_changes.flag])
def test_an_unknown_order_is_refused(house: AHouse, change: Callable[..., None]) -> None:
    with pytest.raises(OrderChangeRefused, match="no such order"):
        change("o-none", "because", by=house.people[Role.CHARGE_NURSE], at=now())


def test_a_cancelled_order_is_not_cancelled_or_held_again(house: AHouse) -> None:
    order, nurse = an_order(), house.people[Role.CHARGE_NURSE]
    order_changes.cancel(order, "not needed", by=nurse, at=now())

    for change in (order_changes.cancel, order_changes.hold):
        with pytest.raises(OrderChangeRefused, match="cancelled"):
            change(order, "again", by=nurse, at=now())


def test_an_order_that_is_not_held_cannot_be_released(house: AHouse) -> None:
    with pytest.raises(OrderChangeRefused, match="not held"):
        order_changes.release(an_order(), by=house.people[Role.CHARGE_NURSE], at=now())


def test_a_collected_order_can_neither_be_cancelled_nor_held(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")
    tablet.send(drawn(tablet, visit))

    for change in (order_changes.cancel, order_changes.hold):
        with pytest.raises(OrderChangeRefused, match="is drawn"):
            change(visit["orders"][0]["id"], "late", by=house.people[Role.CHARGE_NURSE], at=now())


ORDER = Asked(id="o-1", test="x", made_at="2026-11-25T01:00:00.000Z", cancelled_at=None, held_at=None)
AGAIN = Again(
    visit="v-1", due_from="2026-11-25T06:00:00.000Z", due_to="2026-11-25T07:00:00.000Z", only_for="p-2"
)  # fmt: skip
TUBE = {"tube": "t-1", "specimen": "s", "tests": ["x"], "filled_at": "2026-11-25T05:00:00.000Z", "discarded": False}


def attempt(visit: str = "v-1", *, is_out: bool = True, row: dict[str, Any] | None = None) -> Attempt:
    return Attempt(visit=visit, made_at=f"2026-11-25T0{visit[-1]}:00:00.000Z", person="p-1", is_out=is_out, row=row)


def visit_row(outcome: str | None, *tubes: dict[str, Any]) -> dict[str, Any]:
    ended = None if outcome is None else "2026-11-25T05:10:00.000Z"
    last = "2026-11-25T05:09:00.000Z"
    return {
        "ended_at": ended,
        "last_at": last,
        "outcome": outcome,
        "by": "p-9",
        "reason": "",
        "told": None,
        "tubes": tubes,
    }


@pytest.mark.parametrize(
    ("order", "attempts", "state", "may_go_out"),
    [
        ({}, [], "pending", True),
        ({"held_at": "x"}, [], "held", False),
        ({"cancelled_at": "x", "held_at": "x"}, [], "cancelled", False),
        ({}, [attempt()], "out", False),
        ({"held_at": "x"}, [attempt()], "held", False),
        ({}, [attempt(is_out=False)], "pending", True),
        ({}, [attempt(row=visit_row(None))], "underway", False),
        ({"cancelled_at": "x"}, [attempt(row=visit_row(None))], "underway", False),
        ({}, [attempt(row=visit_row("collected", TUBE))], "collected", False),
        ({"cancelled_at": "x"}, [attempt(row=visit_row("collected", TUBE))], "collected", False),
        ({"collect_by": "nurse"}, [], "pending", False),
        ({"collect_by": "nurse"}, [attempt(row=visit_row("away"))], "pending", False),
        ({}, [attempt(row=visit_row("collected", {**TUBE, "discarded": True}))], "not_collected", False),
        ({}, [attempt(row=visit_row("collected", {**TUBE, "tests": ["y"]}))], "not_collected", False),
        ({}, [attempt(row=visit_row("away"))], "pending", True),
        ({}, [attempt(row=visit_row("not_ready"))], "pending", True),
        ({"again": AGAIN}, [attempt(row=visit_row("refused"))], "pending", True),
        ({"again": AGAIN, "held_at": "x"}, [attempt(row=visit_row("refused"))], "held", False),
        ({"again": AGAIN}, [attempt(row=visit_row("refused")), attempt("v-2")], "out", False),
        ({"again": AGAIN}, [attempt(row=visit_row("refused")), attempt("v-2", is_out=False)], "pending", True),
        (
            {"again": AGAIN}, [attempt(row=visit_row("refused")), attempt("v-2", row=visit_row("refused"))],
            "not_collected", False,
        ),
        ({}, [attempt(row=visit_row("refused"))], "not_collected", False),
        ({}, [attempt(row=visit_row("no_identity"))], "not_collected", False),
        ({}, [attempt(row=visit_row("away")), attempt("v-2")], "out", False),
        ({}, [attempt(row=visit_row("away")), attempt("v-2", row=visit_row("collected", TUBE))], "collected", False),
        ({}, [attempt(row=visit_row("away")), attempt("v-2", is_out=False)], "pending", True),
    ],
)  # fmt: skip
def test_what_has_become_of_an_order(
    order: dict[str, Any], attempts: list[Attempt], state: str, may_go_out: bool
) -> None:
    asked = Asked(**{**{name: getattr(ORDER, name) for name in Asked.__slots__}, **order})

    row = stand(asked, attempts)

    assert (row["state"], row["may_go_out"]) == (state, may_go_out)


def test_an_order_sent_again_has_the_new_window_and_is_for_the_person_named_until_the_next_visit() -> None:
    asked = Asked(**{**{name: getattr(ORDER, name) for name in Asked.__slots__}, "again": AGAIN})
    first, second = attempt(row=visit_row("no_vein")), attempt("v-2", row=visit_row("away"))

    sent, came_back = stand(asked, [first]), stand(asked, [first, second])

    assert (sent["due_from"], sent["due_to"], sent["only_for"]) == (AGAIN.due_from, AGAIN.due_to, "p-2")
    assert (came_back["due_to"], came_back["only_for"]) == (AGAIN.due_to, None)


def test_where_an_order_was_drawn_twice_the_draw_that_counts_is_the_one_a_person_named() -> None:
    later = {**TUBE, "tube": "t-2", "specimen": "later"}
    tried = [attempt(row=visit_row("collected", TUBE)), attempt("v-2", row=visit_row("collected", later))]
    asked = {name: getattr(ORDER, name) for name in Asked.__slots__}

    unsettled = stand(Asked(**asked), tried)
    settled = stand(Asked(**{**asked, "counts": frozenset({"t-2"})}), tried)

    assert (unsettled["specimen"], settled["specimen"], settled["visit"]) == ("s", "later", "v-2")
