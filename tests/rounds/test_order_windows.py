"""A level goes on the round in its own window, and the second of a series never rides along with the first."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from bedside.exchange.orders_in import take_in_orders
from bedside.exchange.trouble import FileRefused
from bedside.records.moments import as_text, now
from bedside.records.sending_again import Window
from tests.a_house import AHouse, drawn, order_row
from tests.exchange.sheet import sheet
from tests.rounds.test_sending_again import send

TROPONIN, VANCOMYCIN = "89579-7", "4092-3"


def take(house: AHouse, *rows: dict[str, str]) -> None:
    take_in_orders(sheet(*rows), at=now())


def visits_of(packet: dict[str, Any]) -> list[dict[str, Any]]:
    return [visit for visit in packet["visits"] if visit["patient"]["name"] == "Hansen, Karin"]


def order_of(packet: dict[str, Any], test: str) -> dict[str, Any]:
    return next(order for visit in visits_of(packet) for order in visit["orders"] if order["test"] == test)


def minutes(text: str, since: datetime) -> int:
    return round((datetime.fromisoformat(text) - since).total_seconds() / 60)


def test_a_trough_is_due_before_its_dose_not_when_the_order_says(house: AHouse) -> None:
    dose = now() + timedelta(hours=6)
    take(house, order_row("B-1", "Karin", VANCOMYCIN, dose_at=as_text(dose)))

    order = order_of(house.tablet().packet(), VANCOMYCIN)

    # TD-01: 90 min before the dose at the earliest, best in the last 30
    assert [minutes(order["window"][name], dose) for name in ("from", "aim", "to")] == [-90, -30, 0]
    assert (order["due_from"], order["due_to"]) == (order["window"]["from"], order["window"]["to"])
    assert order["window"]["why"] == "trough: in the time before the next dose"
    assert minutes(order["window"]["dose_at"], dose) == 0


def test_without_the_dose_the_packet_says_what_is_missing(house: AHouse) -> None:
    take(house, order_row("B-1", "Karin", VANCOMYCIN))

    window = order_of(house.tablet().packet(), VANCOMYCIN)["window"]

    assert (window["follows"], window["lacks"]) == ("priority", "the time of the next dose")


def test_the_second_troponin_is_a_stop_of_its_own_until_the_first_is_drawn(house: AHouse) -> None:
    take(
        house,
        order_row("B-1", "Karin", TROPONIN, "stat"),
        order_row("B-2", "Karin", TROPONIN, "stat", after_order="B-1", after_min="60"),
    )

    packet = house.tablet().packet()

    assert [len([one for one in visit["orders"] if one["test"] == TROPONIN]) for visit in visits_of(packet)] == [1, 1]
    together, second = visits_of(packet)
    assert {order["test"] for order in together["orders"]} == {TROPONIN, "24321-2"}
    assert second["orders"][0]["window"]["lacks"] == "the first specimen's time"


def test_once_the_first_is_drawn_the_second_is_due_an_hour_after_its_actual_time(house: AHouse) -> None:
    take(
        house,
        order_row("B-1", "Karin", TROPONIN, "stat"),
        order_row("B-2", "Karin", TROPONIN, "stat", after_order="B-1", after_min="60"),
    )
    tablet = house.tablet()
    first = visits_of(tablet.packet())[0]
    tablet.ms = round((now() - timedelta(minutes=20)).timestamp() * 1000)
    events = drawn(tablet, first)
    tablet.send(events)
    filled = datetime.fromisoformat(
        next(event["body"] for event in events if "tube_filled" in event["body"]).split('"at": "')[1].split('"')[0]
    )

    second = visits_of(tablet.packet())[1]["orders"][0]

    # W57, TD-08: ESC 0/1 h; 10 min either way (TD-09)
    assert [minutes(second["window"][name], filled) for name in ("from", "aim", "to")] == [50, 60, 70]


def test_a_level_sent_out_again_by_hand_keeps_that_window(house: AHouse) -> None:
    take(house, order_row("B-1", "Karin", VANCOMYCIN, dose_at=as_text(now() + timedelta(hours=6))))
    tablet = house.tablet()
    visit = next(one for one in visits_of(tablet.packet()) if one["orders"][0]["test"] == VANCOMYCIN)
    tablet.send(
        [tablet.event("arrived", visit["id"]), tablet.event("visit_ended", visit["id"], {"outcome": "refused"})]
    )
    window = Window(due_from=now(), due_to=now() + timedelta(hours=1))

    send(house, visit["orders"][0]["id"], window)

    again = [order for one in visits_of(tablet.packet()) for order in one["orders"] if order["test"] == VANCOMYCIN]
    assert again[-1]["due_to"] == as_text(window.due_to)


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"after_order": "B-1"}, "after_order"),
        ({"after_min": "60"}, "after_min"),
        ({"after_order": "B-2", "after_min": "60"}, "after_order"),
        ({"after_order": "B-1", "after_at": "2026-11-25T05:00Z", "after_min": "60"}, "after_at"),
        ({"after_order": "B-1", "after_min": "0"}, "after_min"),
        ({"after_order": "B-1", "after_min": "1441"}, "after_min"),
        ({"after_order": "B-1", "after_min": "1.5"}, "after_min"),
    ],
)
def test_half_a_series_is_refused_by_its_cell(house: AHouse, cells: dict[str, str], column: str) -> None:
    with pytest.raises(FileRefused) as refused:
        take(house, order_row("B-2", "Karin", TROPONIN, **cells))

    assert {trouble.column for trouble in refused.value.troubles} == {column}


def test_the_same_series_again_changes_nothing(house: AHouse) -> None:
    row = order_row("B-2", "Karin", TROPONIN, after_order="B-1", after_min="60")
    take(house, row)
    take(house, row, order_row("B-9", "Karin", "58410-2"))

    with pytest.raises(FileRefused):
        take(house, {**row, "after_min": "120"})
