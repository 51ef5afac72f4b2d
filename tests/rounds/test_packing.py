"""Which orders make one stop, and in which order the stops are walked."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bedside.rounds.packing import Waiting, fit_in, pack, stops_of


def at(clock: str) -> datetime:
    hour, minute = clock.split(":")
    return datetime(2026, 11, 25, int(hour), int(minute), tzinfo=UTC)


def waiting(order: str, patient: str, since: str = "05:00", until: str = "08:00", **other: Any) -> Waiting:
    known = {"test": "24321-2", "priority": "routine", "ward": "5", "room": "1", "bed": "A"}
    return Waiting(order=order, patient=patient, due_from=at(since), due_to=at(until), **{**known, **other})


def walked(*orders: Waiting) -> list[str]:
    return [stop.patient for stop in pack(orders)]


def test_orders_whose_times_overlap_are_one_stop() -> None:
    (stop,) = stops_of([waiting("o-1", "n-1", "05:00", "07:00"), waiting("o-2", "n-1", "06:00", "08:00")])

    assert (stop.due_from, stop.due_to) == (at("06:00"), at("07:00"))


def test_windows_that_only_touch_share_that_minute() -> None:
    assert len(stops_of([waiting("o-1", "n-1", "05:00", "06:00"), waiting("o-2", "n-1", "06:00", "07:00")])) == 1


def test_windows_a_minute_apart_are_two_stops() -> None:
    assert len(stops_of([waiting("o-1", "n-1", "05:00", "06:00"), waiting("o-2", "n-1", "06:01", "07:00")])) == 2


def test_three_orders_share_a_stop_only_where_all_three_may_be_drawn() -> None:
    orders = [
        waiting("o-1", "n-1", "05:00", "06:00"),
        waiting("o-2", "n-1", "05:30", "07:00"),
        waiting("o-3", "n-1", "06:30", "07:30"),
    ]

    assert [[order.order for order in stop.orders] for stop in stops_of(orders)] == [["o-1", "o-2"], ["o-3"]]


def test_rooms_are_walked_as_people_count_them() -> None:
    orders = [waiting(f"o-{room}{bed}", f"{room}{bed}", room=room, bed=bed) for room, bed in
              (("14", "B"), ("9", "A"), ("14", "A"), ("101", "A"))]  # fmt: skip

    assert walked(*orders) == ["9A", "14A", "14B", "101A"]


def test_stat_comes_first_then_timed_draws_by_their_hour_and_isolation_last() -> None:
    orders = [
        waiting("o-1", "isolated", room="1", isolation="contact"),
        waiting("o-2", "routine", room="2"),
        waiting("o-3", "timed later", "06:30", "07:00", room="3"),
        waiting("o-4", "timed sooner", "06:00", "06:30", room="4"),
        waiting("o-5", "stat", priority="stat", room="9"),
    ]

    assert walked(*orders) == ["stat", "timed sooner", "timed later", "routine", "isolated"]


def test_a_stat_order_does_not_wait_for_isolation() -> None:
    orders = [waiting("o-1", "plain"), waiting("o-2", "isolated", priority="stat", isolation="droplet")]

    assert walked(*orders) == ["isolated", "plain"]


def test_a_window_of_exactly_an_hour_is_a_timed_draw_and_a_minute_more_is_not() -> None:
    assert waiting("o-1", "n-1", "05:00", "06:00").is_timed
    assert not waiting("o-1", "n-1", "05:00", "06:01").is_timed


def test_a_new_order_goes_to_its_patients_open_stop_or_makes_one() -> None:
    (stop,) = stops_of([waiting("o-1", "n-1", "05:00", "07:00")])
    new = [waiting("o-2", "n-1", "06:00", "08:00"), waiting("o-3", "n-1", "07:30", "09:00"), waiting("o-4", "n-2")]

    joining = fit_in({"v-1": stop}, new)

    assert [order.order for order in joining.joined["v-1"]] == ["o-2"]
    assert [stop.orders[0].order for stop in joining.stops] == ["o-4", "o-3"]


ORDERS = st.lists(
    st.builds(
        waiting,
        order=st.uuids().map(str),
        patient=st.sampled_from(["n-1", "n-2", "n-3"]),
        since=st.sampled_from(["05:00", "05:30", "06:00"]),
        until=st.sampled_from(["06:00", "06:30", "07:00"]),
        priority=st.sampled_from(["stat", "asap", "urgent", "routine"]),
        room=st.sampled_from(["1", "2", "10"]),
    ),
    max_size=12,
)


@given(ORDERS, st.randoms())
def test_every_order_is_on_exactly_one_stop_whatever_order_they_come_in(orders: list[Waiting], chance: Any) -> None:
    shuffled = orders.copy()
    chance.shuffle(shuffled)

    stops = pack(orders)

    assert sorted(order.order for stop in stops for order in stop.orders) == sorted(one.order for one in orders)
    assert [stop.position for stop in stops] == list(range(1, len(stops) + 1))
    assert all(stop.due_from <= stop.due_to for stop in stops)
    assert [{o.order for o in stop.orders} for stop in pack(shuffled)] == [{o.order for o in s.orders} for s in stops]
