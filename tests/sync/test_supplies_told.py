"""A packet lists what its round takes along, and says before leaving what the store lacks."""

from __future__ import annotations

import pytest

from bedside.people.roles import Role
from bedside.records.moments import now
from bedside.records.stock import CountRefused, count_stock, stock_now
from tests.a_house import AHouse, drawn, visit_of


def supply(packet: dict, item: str) -> dict:
    return next(line for line in packet["supplies"] if line["item"] == item)


def count(house: AHouse, **counts: int) -> None:
    items = {name.replace("_", ":", 1): number for name, number in counts.items()}
    count_stock(items, by=house.people[Role.KEEPER], at=now())


def test_the_packet_lists_what_every_bed_needs(house: AHouse) -> None:
    packet = house.tablet().packet()

    gel = supply(packet, "tube:serum-gel:2.5")
    assert (gel["count"], gel["spare"], gel["take"], gel["stock"], gel["short"]) == (5, 1, 6, None, 0)
    assert "9 B" in gel["for"]
    assert supply(packet, "care:isolation:contact")["for"] == ["2 A"]


def test_a_bed_that_is_drawn_needs_nothing_any_more(house: AHouse) -> None:
    tablet = house.tablet()
    tablet.send(drawn(tablet, visit_of(tablet.packet(), "Bo")))

    packet = tablet.packet()

    assert supply(packet, "tube:serum-gel:2.5")["count"] == 4
    assert "care:isolation:contact" not in [line["item"] for line in packet["supplies"]]


@pytest.mark.parametrize(("counted", "short"), [(6, 0), (5, 1), (0, 6)])
def test_what_the_store_lacks_is_said(house: AHouse, counted: int, short: int) -> None:
    tablet = house.tablet()
    before = tablet.packet()["revision"]

    count_stock({"tube:serum-gel:2.5": counted}, by=house.people[Role.KEEPER], at=now())
    packet = tablet.packet()

    assert packet["revision"] > before
    assert supply(packet, "tube:serum-gel:2.5")["short"] == short


def test_the_last_count_counts(house: AHouse) -> None:
    count(house, care_ice=9)
    count(house, care_ice=4, care_foil=2)

    assert {item: one.count for item, one in stock_now().items()} == {"care:ice": 4, "care:foil": 2}


@pytest.mark.parametrize("counts", [{}, {"care_ice": -1}, {"care_ice": 100_001}])
def test_a_count_no_store_can_have_is_refused(house: AHouse, counts: dict[str, int]) -> None:
    with pytest.raises(CountRefused):
        count(house, **counts)

    assert stock_now() == {}
