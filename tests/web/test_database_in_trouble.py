"""A full disk, a lock somebody else holds, a file that cannot be written: the tablet waits, and nothing is lost."""

from __future__ import annotations

from contextlib import AbstractContextManager
from typing import Any

import pytest

from bedside.records.database import db, on_postgres
from bedside.records.soundness import database_fault
from bedside.records.tables import Answer, Audit, Event
from tests.a_house import AHouse, ATablet, visit_of
from tests.troubles import STEPS_A_STATEMENT, disk_full, gives_up_after, locked_by_another, not_to_be_written


def letter(house: AHouse, tablet: ATablet, events: list[dict[str, Any]]) -> dict[str, Any]:
    return {"house": house.id, "tablet": tablet.name, "schema": 1, "events": events}


@pytest.mark.parametrize("trouble", [disk_full, locked_by_another, not_to_be_written])
def test_a_database_that_cannot_save_answers_503_and_keeps_nothing_by_halves(house: AHouse, trouble: Any) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")["id"]
    events = [tablet.event("site_touched", visit, {"note": "x" * 2000}) for _ in range(20)]
    db.connect(reuse_if_open=True)
    entries = Audit.select().count()

    in_trouble: AbstractContextManager[None] = trouble()
    with in_trouble:
        answer = tablet.post(letter(house, tablet, events))

    assert answer.status_code == 503
    assert answer.content_type == "application/problem+json"
    assert answer.headers["X-Bedside-House"] == house.id
    assert answer.get_json()["do_next"]
    assert (Event.select().count(), Answer.select().count(), Audit.select().count()) == (0, 0, entries)
    assert {one["status"] for one in tablet.send(events)} == {"stored"}
    assert database_fault() is None


def test_wherever_the_database_gives_up_the_letter_is_kept_whole_or_not_at_all(house: AHouse) -> None:
    """It gives up at its first look, then a few looks later, and so on, until the letter is through.

    On PostgreSQL at every fifth statement: each try costs a process of the server.
    """
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")["id"]
    events = [tablet.event("site_touched", visit) for _ in range(3)]
    db.connect(reuse_if_open=True)
    gave_up, step = 0, STEPS_A_STATEMENT * (5 if on_postgres() else 1)
    for looks in range(0, 10_000, step):
        with gives_up_after(looks):
            answer = tablet.post(letter(house, tablet, events))
        if answer.status_code == 200:
            break
        gave_up += 1
        assert answer.status_code in (500, 503)
        # After the commit too: then the tablet hears nothing of it, and asks again.
        assert (Event.select().count(), Answer.select().count()) in {(0, 0), (3, 3)}

    assert gave_up > (5 if on_postgres() else 20)
    assert len({one["status"] for one in answer.get_json()["answers"]}) == 1
    assert Event.select().count() == Answer.select().count() == 3
    assert database_fault() is None
