"""An order that came back without its blood: it goes out again by itself, or when a person says so, in its window."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from bedside.people.roles import Role
from bedside.records import audit, order_changes
from bedside.records.moments import as_text, now
from bedside.records.order_changes import OrderChangeRefused
from bedside.records.order_standing import COMES_BACK
from bedside.records.sending_again import Window, send_again
from bedside.records.tables import OrderNow
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, visit_of


def ended(tablet: ATablet, patient: str, outcome: str) -> tuple[dict[str, Any], str]:
    """A visit that ended without blood; gives the visit and its order."""
    visit = visit_of(tablet.packet(), patient)
    tablet.send([tablet.event("arrived", visit["id"]), tablet.event("visit_ended", visit["id"], {"outcome": outcome})])
    return visit, str(visit["orders"][0]["id"])


def an_hour(after: timedelta = timedelta(0)) -> Window:
    return Window(due_from=now() + after, due_to=now() + after + timedelta(hours=1))


def send(house: AHouse, order: str, window: Window | None = None, only_for: str | None = None) -> None:
    send_again([order], window or an_hour(), only_for, "asked her", by=house.people[Role.CHARGE_NURSE], at=now())


def state(order: str) -> tuple[str, bool]:
    row = OrderNow.get_by_id(order)
    return row.state, row.may_go_out


@pytest.mark.parametrize("outcome", sorted(COMES_BACK))
def test_a_patient_who_was_away_or_not_ready_is_back_in_the_queue(house: AHouse, outcome: str) -> None:
    visit, order = ended(house.tablet(), "Karin", outcome)

    row = OrderNow.get_by_id(order)

    assert state(order) == ("pending", True)
    assert (row.outcome, row.visit_id) == (outcome, visit["id"])


def test_sent_out_again_it_is_a_new_visit_of_the_next_round_in_the_new_window(house: AHouse) -> None:
    tablet = house.tablet()
    visit, order = ended(tablet, "Karin", "refused")
    window = an_hour(timedelta(hours=2))

    send(house, order, window)
    again = [one for one in tablet.packet()["visits"] if one["patient"]["name"] == "Hansen, Karin"][-1]

    assert again["id"] != visit["id"] and again["ended"] is None
    assert (again["due_from"], again["due_to"]) == (as_text(window.due_from), as_text(window.due_to))
    assert state(order) == ("out", False)
    assert [one.fault for one in checks() if one.fault] == []


def test_sent_out_again_for_one_person_nobody_else_takes_it(house: AHouse) -> None:
    ines, tomasz = house.tablet(), house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST)
    _, order = ended(ines, "Karin", "no_vein")

    send(house, order, only_for=tomasz)

    assert [one["ended"] for one in ines.packet()["visits"] if one["patient"]["name"] == "Hansen, Karin"][1:] == []
    assert [one["patient"]["name"] for one in house.tablet(tomasz).packet()["visits"]] == ["Hansen, Karin"]


def test_a_second_refusal_needs_a_second_word(house: AHouse) -> None:
    tablet = house.tablet()
    _, order = ended(tablet, "Karin", "refused")
    send(house, order)
    again = [one for one in tablet.packet()["visits"] if one["patient"]["name"] == "Hansen, Karin"][-1]

    tablet.send(
        [tablet.event("arrived", again["id"]), tablet.event("visit_ended", again["id"], {"outcome": "refused"})]
    )

    assert state(order) == ("not_collected", False)


def test_sending_out_again_is_written_down(house: AHouse) -> None:
    _, order = ended(house.tablet(), "Karin", "refused")

    send(house, order)

    last = list(audit.entries())[-1]
    assert (last.action, last.object, last.who) == (
        "order sent out again", order, house.people[Role.CHARGE_NURSE],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("starts", "ends", "says"),
    [(0, 0, "before it begins"), (2, 1, "before it begins"), (-2, -1, "over already"), (-1, 0, "over already")],
)
def test_a_window_that_cannot_be_met_is_refused(house: AHouse, starts: int, ends: int, says: str) -> None:
    _, order = ended(house.tablet(), "Karin", "refused")
    at = now()
    window = Window(due_from=at + timedelta(hours=starts), due_to=at + timedelta(hours=ends))

    with pytest.raises(OrderChangeRefused, match=says):
        send_again([order], window, None, "", by=house.people[Role.CHARGE_NURSE], at=at)


def test_nobody_who_draws_no_blood_can_be_named(house: AHouse) -> None:
    _, order = ended(house.tablet(), "Karin", "refused")

    with pytest.raises(OrderChangeRefused, match="takes out rounds"):
        send(house, order, only_for=house.people[Role.KEEPER])


def test_an_order_that_nobody_visited_or_that_is_cancelled_is_not_sent_again(house: AHouse) -> None:
    tablet = house.tablet()
    waiting = str(visit_of(tablet.packet(), "Karen")["orders"][0]["id"])
    _, refused = ended(tablet, "Karin", "refused")
    order_changes.cancel(refused, "gone home", by=house.people[Role.CHARGE_NURSE], at=now())

    for order in (waiting, refused, "o-none"):
        with pytest.raises(OrderChangeRefused, match="did not come back"):
            send(house, order)


def test_an_order_goes_out_again_only_when_its_new_window_is_near(house: AHouse) -> None:
    tablet = house.tablet()
    _, order = ended(tablet, "Karin", "refused")

    send(house, order, an_hour(timedelta(hours=20)))

    assert tablet.packet() is not None
    assert state(order) == ("pending", True)


def test_a_retimed_order_keeps_the_window_it_was_asked_with(house: AHouse) -> None:
    """The sender's own file, sent once more, must still find its order unchanged."""
    _, order = ended(house.tablet(), "Karin", "refused")
    before = OrderNow.get_by_id(order).order.due_to

    send(house, order, an_hour(timedelta(hours=5)))

    assert OrderNow.get_by_id(order).order.due_to == before
    assert datetime.fromisoformat(OrderNow.get_by_id(order).due_to) > datetime.fromisoformat(before)
