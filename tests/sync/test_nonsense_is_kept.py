"""Whatever a tablet sends, each item gets one answer, nothing breaks, and what was an event is kept."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bedside.clinical.events import KINDS
from bedside.people.roles import Role
from bedside.records.database import db
from bedside.records.moments import now
from bedside.records.tables import Event, SetAside
from bedside.sync.receive import receive
from bedside.sync.verifying import projection_faults
from bedside.sync.wire import NoEvent, read_batch
from tests.a_house import AHouse, visit_of

NUMBERS = st.one_of(
    st.integers(-3, 3), st.floats(allow_nan=False), st.integers(), st.just(10**400), st.just(1e300), st.just(-(10**30))
)
VALUES = st.recursive(
    st.one_of(
        st.none(), st.booleans(), NUMBERS, st.text(max_size=8), st.sampled_from(["left", "straight", "spoken", "yes"])
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)),
    max_leaves=6,
)
FIELDS = st.sampled_from(
    ["source", "kind", "side", "tube", "event", "data", "at", "question", "answer", "opened", "steps", "told"]
) | st.sampled_from(["volume_ml", "inversions", "watched_s", "finding", "outcome"])
TIMES = st.sampled_from(["2026-11-25T05:00:00Z", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59.999Z", "yesterday"])


@st.composite
def bodies(draw: st.DrawFn, visit: str, tube: str) -> str:
    """A body that is nearly right: known kinds, the real visit and tube, and anything at all in the fields."""
    told: dict[str, Any] = {
        "visit": draw(st.sampled_from([visit, "v-none"])),
        "kind": draw(st.sampled_from([*KINDS, "danced"])),
        "at": draw(TIMES),
        "server_skew_ms": draw(st.one_of(st.none(), NUMBERS)),
        "mono_ms": draw(st.one_of(st.none(), NUMBERS)),
        "page": "p",
        "data": draw(st.dictionaries(FIELDS, st.one_of(VALUES, st.just(tube), st.just("e-0")), max_size=4)),
    }
    return json.dumps(told)


ITEMS = st.fixed_dictionaries(
    {},
    optional={"id": VALUES, "tablet": VALUES, "seq": VALUES, "body": st.one_of(VALUES, st.text()), "sealed": VALUES},
)


def answered(house: AHouse, items: list[Any]) -> tuple[list[dict[str, Any]], int]:
    """The answers to these items, and how many of them were kept; undone afterwards."""
    batch = read_batch({"events": items})
    events = {item.id for item in batch.items if not isinstance(item, NoEvent)}
    with db.atomic() as undone:
        told = receive(batch, person=house.people[Role.PHLEBOTOMIST], at=now())["answers"]
        again = receive(batch, person=house.people[Role.PHLEBOTOMIST], at=now())["answers"]
        kept = {row.id for row in Event.select()}
        asides = SetAside.select().count()
        faults = [fault for _, fault in projection_faults() if fault]
        undone.rollback()
    assert kept == events
    assert faults == []
    assert {one["status"] for one in again} <= {"known", "set-aside", "id-reused"}
    assert asides >= len({one["hash"] for one in told if one["status"] == "id-reused"})
    return told, len(kept)


@pytest.mark.long_on_postgres
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(items=st.lists(st.one_of(ITEMS, VALUES), max_size=5))
def test_any_json_at_all_is_answered_item_by_item(house: AHouse, items: list[Any]) -> None:
    told, _ = answered(house, items)

    assert len(told) == len(items)
    assert {one["status"] for one in told} <= {"stored", "known", "set-aside", "id-reused"}


@pytest.mark.long_on_postgres
def test_events_that_are_nearly_right_are_all_kept(house: AHouse) -> None:
    visit = visit_of(house.tablet().packet(), "Kaarina")
    texts = st.lists(bodies(visit["id"], visit["tubes"][0]["id"]), min_size=1, max_size=6)

    @settings(max_examples=80, deadline=None)
    @given(texts)
    def all_kept(texts: list[str]) -> None:
        items = [{"id": f"e-{n}", "tablet": "t", "seq": n, "body": text} for n, text in enumerate(texts)]

        told, kept = answered(house, items)

        assert kept == len(items) == len(told)

    all_kept()


def test_volumes_beyond_all_measure_do_no_harm(house: AHouse) -> None:
    visit = visit_of(house.tablet().packet(), "Kaarina")["id"]
    texts = [
        {"kind": kind, "data": {"tube": tube, "kind": "edta", "nominal_ml": 1e308}}
        for tube in ("t-1", "t-2")
        for kind in ("tube_added", "tube_filled")
    ]
    at = "2026-11-25T05:00:00Z"
    items = [
        {"id": f"e-{n}", "tablet": "t", "seq": n, "body": json.dumps({"visit": visit, "at": at, **text})}
        for n, text in enumerate(texts)
    ]

    assert answered(house, items)[1] == 4
