"""The power goes: what a tablet got its answer for is in the file when it is back, whole and once.

The house's own write path, `sync.receive`, writes through a disk that forgets what was never synced
(`forgetful_disk.py`). The same 500 cuts with `synchronous=NORMAL` must lose something, or they prove nothing.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import peewee
import pytest

from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.database import connected, database_at, db, use
from bedside.records.moments import now
from bedside.records.soundness import database_fault
from bedside.sync.receive import receive
from bedside.sync.wire import read_batch
from tests.a_house import AHouse, ATablet, visit_of

from .forgetful_disk import Answered, ForgetfulDatabase, Recorder, files_of, left_after

CUTS = 500
LETTERS = 60
PAGES_TO_A_CHECKPOINT = 200
"""Sooner than SQLite's own 1000, so that the cuts meet several checkpoints."""

NORMAL, FULL = 1, 2


@dataclass(frozen=True)
class Loss:
    """What one cut cost."""

    damaged: str | None
    missing: frozenset[str]
    strangers: frozenset[str]

    def __bool__(self) -> bool:
        return bool(self.damaged or self.missing or self.strangers)


pytestmark = pytest.mark.sqlite_only


@pytest.fixture
def recorder() -> Iterator[Recorder]:
    made = Recorder()
    yield made
    made.unregister()


def letters(tablet: ATablet, visit: str) -> Iterator[list[dict[str, str]]]:
    """A morning of short letters, as a tablet sends them while somebody works."""
    for number in range(LETTERS):
        yield [tablet.event("site_touched", visit) for _ in range(1 + number % 4)]


def losses(house: AHouse, recorder: Recorder, tmp_path: Path, synchronous: int) -> list[Loss]:
    """Take letters in over the forgetful disk, cut the power 500 times, and look what is left each time."""
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")["id"]
    db.close()
    path = house.settings.database
    begun = files_of(path)
    sent = take_in(list(letters(tablet, visit)), house, recorder, synchronous)
    use(database_at(path))
    db.connect()
    cuts = left_after(recorder.story, begun, CUTS, seed=6)
    return [look(found, answered, sent, tmp_path / "found") for found, answered in cuts]


def take_in(batches: list[list[dict[str, str]]], house: AHouse, recorder: Recorder, synchronous: int) -> set[str]:
    use(ForgetfulDatabase(house.settings.database, synchronous))
    with connected():
        db.execute_sql(f"PRAGMA wal_autocheckpoint = {PAGES_TO_A_CHECKPOINT}").fetchall()
        for events in batches:
            answer = receive(read_batch({"events": events}), person=house.people[Role.PHLEBOTOMIST], at=now())
            recorder.story.append(Answered(frozenset(one["id"] for one in answer["answers"])))
    return {event["id"] for events in batches for event in events}


def look(found: dict[str, bytes], answered: frozenset[str], sent: set[str], folder: Path) -> Loss:
    """Open what a cut left, with the SQLite the house itself uses."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name, content in found.items():
        (folder / name).write_bytes(content)
    with closing(peewee.sqlite3.connect(str(folder / "bedside.db"))) as connection:
        damaged = database_fault(connection)
        held = {row[0] for row in connection.execute("SELECT id FROM event")}
        unanswered = {row[0] for row in connection.execute("SELECT id FROM event EXCEPT SELECT event_id FROM answer")}
    return Loss(damaged, frozenset(answered - held), frozenset(held - sent | unanswered))


def test_in_five_hundred_power_cuts_nothing_that_was_answered_is_lost(
    house: AHouse, recorder: Recorder, tmp_path: Path
) -> None:
    lost = losses(house, recorder, tmp_path, FULL)

    assert len(lost) == CUTS
    assert [loss for loss in lost if loss] == []
    assert audit.first_fault(audit.entries()) is None


def test_the_same_cuts_lose_what_was_answered_when_the_database_syncs_less(
    house: AHouse, recorder: Recorder, tmp_path: Path
) -> None:
    lost = losses(house, recorder, tmp_path, NORMAL)

    assert [loss for loss in lost if loss.missing]
    assert [loss for loss in lost if loss.damaged] == []
