"""Promise 2: whatever the network does to the order and the number of deliveries, the house tells the same story."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedside.people.roles import Role
from bedside.records import projections
from bedside.records.database import db
from bedside.records.moments import now
from bedside.records.tables import Event, SetAside
from bedside.sync.receive import receive
from bedside.sync.verifying import projection_faults
from bedside.sync.wire import read_batch
from tests.a_house import AHouse, drawn, proven, visit_of


def a_mixed_morning(house: AHouse) -> list[dict[str, Any]]:
    """Two tablets, three visits: one as it should go, one with an added tube and corrections, one gone wrong.

    The second tablet's clock is four minutes off; both write about Karin.
    """
    first, second = house.tablet(), house.tablet()
    packet = first.packet()
    kaarina, karin, theo = (visit_of(packet, name) for name in ("Kaarina", "Karin", "Theo"))
    second.skew_ms = 240_000
    events = drawn(first, kaarina)[:12] + proven(first, karin)
    added = first.event("tube_added", karin["id"], {"tube": "t-extra", "kind": "edta", "specimen": "0000000994"})
    events += [added, first.event("tube_filled", karin["id"], {"tube": "t-extra"})]
    wrong = second.event("asked", karin["id"], {"question": "consent", "answer": "no"})
    events += [wrong, second.event("corrected", karin["id"], {"event": wrong["id"], "data": None, "reason": "mis-tap"})]
    needle = second.event("needle_in", theo["id"], {"kind": "straight"})
    events += [needle, second.event("tube_filled", theo["id"], {"tube": theo["tubes"][0]["id"]})]
    events += [second.event("corrected", theo["id"], {"event": needle["id"], "data": {"kind": "spoon"}})]
    events += [second.event("incident_opened", theo["id"], {"kind": "faint"}), second.event("danced", theo["id"])]
    return events


def told(house: AHouse) -> Any:
    """Everything the house shows, and what it has set aside."""
    aside = {(row.event, row.reason) for row in SetAside.select() if row.placed_at is None}
    findings = sorted(map(repr, projections.findings_now()))
    return projections.visits_now(), projections.orders_now(), findings, projections.incidents_now(), aside


def deliver(house: AHouse, batches: list[list[dict[str, Any]]]) -> Any:
    """Deliver these batches into a house as it was before, and undo it all afterwards."""
    with db.atomic() as undone:
        for events in batches:
            batch = read_batch({"tablet": "t", "events": events})
            receive(batch, person=house.people[Role.PHLEBOTOMIST], at=now())
        story, count = told(house), Event.select().count()
        faults = [fault for _, fault in projection_faults() if fault]
        undone.rollback()
    assert faults == []
    return story, count


@pytest.mark.long_on_postgres
def test_any_order_any_batches_any_repeats_tell_the_same_story(house: AHouse) -> None:
    events = a_mixed_morning(house)
    expected = deliver(house, [events])
    (_, _, findings, incidents, aside), count = expected
    assert sum("clock-off" in finding for finding in findings) == 1
    assert (len(incidents), len(aside), count) == (2, 2, len(events))

    @settings(max_examples=40, deadline=None)
    @given(data=st.data())
    def tells_the_same(data: st.DataObject) -> None:
        shuffled = data.draw(st.permutations(events))
        repeated = shuffled + data.draw(st.lists(st.sampled_from(events), max_size=8))
        cuts = sorted(data.draw(st.sets(st.integers(1, len(repeated) - 1), max_size=6)))
        batches = [repeated[start:end] for start, end in zip([0, *cuts], [*cuts, len(repeated)], strict=True)]

        assert deliver(house, batches) == expected

    tells_the_same()
