"""A full disk, a lock somebody else holds, a file that cannot be written: the tablet waits, and nothing is lost."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from typing import Any

import peewee
import pytest

from bedside.records.database import BUSY_TIMEOUT_MS, db
from bedside.records.soundness import database_fault
from bedside.records.tables import Answer, Audit, Event
from tests.a_house import AHouse, ATablet, visit_of


@contextmanager
def disk_full(house: AHouse) -> Iterator[None]:
    """The file may not grow by a single page."""
    pages = db.execute_sql("PRAGMA page_count").fetchone()[0]
    most = db.execute_sql("PRAGMA max_page_count").fetchone()[0]
    db.execute_sql(f"PRAGMA max_page_count = {pages}").fetchall()
    yield
    db.execute_sql(f"PRAGMA max_page_count = {most}").fetchall()


@contextmanager
def locked(house: AHouse) -> Iterator[None]:
    """Somebody else holds the write lock for longer than anybody waits."""
    db.execute_sql("PRAGMA busy_timeout = 0").fetchall()
    with closing(peewee.sqlite3.connect(str(house.settings.database), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")
    db.execute_sql(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}").fetchall()


@contextmanager
def not_to_be_written(house: AHouse) -> Iterator[None]:
    """SQLite answers as for a file without write permission (a test may run as root, whom permissions do not stop)."""
    db.execute_sql("PRAGMA query_only = 1").fetchall()
    yield
    db.execute_sql("PRAGMA query_only = 0").fetchall()


def letter(house: AHouse, tablet: ATablet, events: list[dict[str, Any]]) -> dict[str, Any]:
    return {"house": house.id, "tablet": tablet.name, "schema": 1, "events": events}


@pytest.mark.parametrize("trouble", [disk_full, locked, not_to_be_written])
def test_a_database_that_cannot_save_answers_503_and_keeps_nothing_by_halves(house: AHouse, trouble: Any) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")["id"]
    events = [tablet.event("site_touched", visit, {"note": "x" * 2000}) for _ in range(20)]
    db.connect(reuse_if_open=True)
    entries = Audit.select().count()

    in_trouble: AbstractContextManager[None] = trouble(house)
    with in_trouble:
        answer = tablet.post(letter(house, tablet, events))

    assert answer.status_code == 503
    assert answer.content_type == "application/problem+json"
    assert answer.headers["X-Bedside-House"] == house.id
    assert answer.get_json()["do_next"]
    assert (Event.select().count(), Answer.select().count(), Audit.select().count()) == (0, 0, entries)
    assert {one["status"] for one in tablet.send(events)} == {"stored"}
    assert database_fault() is None


def gives_up_once(looks: int) -> Callable[[], bool]:
    """Asked every ten steps of the database whether to give up: yes, once, after so many looks."""
    counted = itertools.count()
    return lambda: next(counted) == looks


def test_wherever_the_database_gives_up_the_letter_is_kept_whole_or_not_at_all(house: AHouse) -> None:
    """It gives up at its first look, then a few looks later, and so on, until the letter is through."""
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")["id"]
    events = [tablet.event("site_touched", visit) for _ in range(3)]
    db.connect(reuse_if_open=True)
    connection, gave_up = db.connection(), 0
    for looks in range(0, 10_000, 6):
        connection.set_progress_handler(gives_up_once(looks), 10)
        answer = tablet.post(letter(house, tablet, events))
        connection.set_progress_handler(None, 0)
        if answer.status_code == 200:
            break
        gave_up += 1
        assert answer.status_code in (500, 503)
        # After the commit too: then the tablet hears nothing of it, and asks again.
        assert (Event.select().count(), Answer.select().count()) in {(0, 0), (3, 3)}

    assert gave_up > 20
    assert len({one["status"] for one in answer.get_json()["answers"]}) == 1
    assert Event.select().count() == Answer.select().count() == 3
    assert database_fault() is None
