"""The audit record: whatever is done to it, the first bad entry is named."""

from __future__ import annotations

import threading
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.audit import BEFORE_THE_FIRST, Entry, chained, first_fault
from bedside.records.database import connected, writing
from bedside.records.moments import now
from tests.a_house import PATIENTS, AHouse, drawn, visit_of


def a_chain(length: int) -> list[Entry]:
    previous, chain = BEFORE_THE_FIRST, []
    for seq in range(1, length + 1):
        told: dict[str, object] = {"seq": seq, "who": "p-1", "action": "a", "object": f"o-{seq}", "result": "done"}
        told["at"] = "2026-11-25T05:00:00.000Z"
        chain.append(Entry(**told, previous=previous, hash=chained(previous, told)))  # type: ignore[arg-type]
        previous = chain[-1].hash
    return chain


def test_a_whole_chain_and_an_empty_one_hold() -> None:
    assert first_fault(a_chain(20)) is None
    assert first_fault([]) is None


@given(st.integers(0, 9), st.sampled_from(["at", "who", "action", "object", "result", "previous", "hash"]))
def test_a_changed_entry_is_named(place: int, field: str) -> None:
    chain = a_chain(10)
    chain[place] = replace(chain[place], **{field: "changed"})

    fault = first_fault(chain)

    assert fault is not None and f"entry {place + 1} " in fault


@given(st.integers(0, 8))
def test_a_missing_entry_is_named(place: int) -> None:
    chain = a_chain(10)
    del chain[place]

    fault = first_fault(chain)

    assert fault is not None and f"entry {place + 1} " in fault


@given(st.integers(0, 8))
def test_two_entries_that_changed_places_are_named(place: int) -> None:
    chain = a_chain(10)
    chain[place], chain[place + 1] = chain[place + 1], chain[place]

    fault = first_fault(chain)

    assert fault is not None and f"entry {place + 1} " in fault


def test_many_writers_leave_no_gap(house: AHouse) -> None:
    def write() -> None:
        with connected():
            for _ in range(10):
                with writing():
                    audit.write(who="p-1", action="test", object="o-1", at=now())

    threads = [threading.Thread(target=write) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    told = list(audit.entries())
    assert [entry.seq for entry in told] == list(range(1, len(told) + 1))
    assert first_fault(told) is None


def test_the_record_holds_no_patients_data(house: AHouse) -> None:
    tablet = house.tablet()
    for visit in tablet.packet()["visits"]:
        tablet.send(drawn(tablet, visit))

    told = repr(list(audit.entries()))

    for patient in PATIENTS.values():
        assert patient["family"] not in told and patient["birth_date"] not in told
    assert house.people[Role.PHLEBOTOMIST] in told


def test_a_tablet_that_holds_another_head_is_written_down(house: AHouse) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Karin")["id"]
    head = audit.head()
    assert head is not None

    tablet.send([tablet.event("arrived", visit)], head={"n": head.seq, "hash": head.hash})
    assert "audit head differs" not in [entry.action for entry in audit.entries()]
    tablet.send([tablet.event("taped", visit)], head={"n": head.seq, "hash": "0" * 64})

    assert "audit head differs" in [entry.action for entry in audit.entries()]
