"""What is demanded of the database on every connection, and what a write is."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import peewee
import pytest

from bedside.records import database
from bedside.records.database import DatabaseUnfit, HouseDatabase, check, connected, database_at, db, demanded, writing
from bedside.records.house import house as house_row
from bedside.records.house import make_house, open_house
from bedside.records.migrations import DatabaseFromTheFuture, Step, migrate, steps
from bedside.records.moments import now
from bedside.records.schema import create_fresh, described
from bedside.records.tables import House, Migration, Ward
from bedside.settings import Settings
from tests.a_house import AHouse


def pragma(name: str) -> Any:
    return db.execute_sql(f"PRAGMA {name}").fetchone()[0]


@pytest.mark.sqlite_only
def test_every_connection_reports_what_is_demanded(house: AHouse) -> None:
    wanted = demanded(database.sqlite_release())
    told: list[dict[str, Any]] = [{name: pragma(name) for name in wanted}]

    def elsewhere() -> None:
        with connected():
            told.append({name: pragma(name) for name in wanted})

    thread = threading.Thread(target=elsewhere)
    thread.start()
    thread.join()

    assert told == [wanted, wanted]
    assert wanted["synchronous"] == 2 and wanted["foreign_keys"] == 1


@pytest.mark.parametrize(
    ("release", "journal"), [((3, 40, 1), "delete"), ((3, 51, 2), "delete"), ((3, 51, 3), "wal"), ((3, 53, 4), "wal")]
)
def test_a_write_ahead_log_is_refused_where_it_could_corrupt(release: tuple[int, ...], journal: str) -> None:
    assert demanded(release)["journal_mode"] == journal


def test_a_setting_that_was_not_taken_stops_the_app() -> None:
    memory = peewee.sqlite3.connect(":memory:")

    with pytest.raises(DatabaseUnfit, match="journal_mode = memory"):
        check(memory, {"journal_mode": "wal"})
    memory.close()


def test_a_write_that_fails_leaves_nothing(house: AHouse) -> None:
    with pytest.raises(RuntimeError), writing():
        Ward.create(id="w-x", name="X")
        raise RuntimeError

    assert Ward.get_or_none(Ward.id == "w-x") is None


def test_a_write_inside_a_write_is_undone_by_itself(house: AHouse) -> None:
    with writing():
        Ward.create(id="w-x", name="X")
        with pytest.raises(RuntimeError), writing():
            Ward.create(id="w-y", name="Y")
            raise RuntimeError

    assert {row.id for row in Ward.select().where(Ward.id << ["w-x", "w-y"])} == {"w-x"}


def test_writers_take_turns_and_none_is_told_that_the_database_is_locked(house: AHouse) -> None:
    """Eight threads read and then write in one transaction: begun as a reader, each would fail at once."""
    failures: list[BaseException] = []

    def count_up() -> None:
        try:
            with connected():
                for _ in range(25):
                    with writing():
                        serial = house_row().next_serial
                        House.update(next_serial=serial + 1).execute()
        except BaseException as error:
            failures.append(error)

    before = house_row().next_serial
    threads = [threading.Thread(target=count_up) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failures == []
    assert house_row().next_serial == before + 200


def test_migrating_gives_the_same_schema_as_making_it_fresh(tmp_path: Path) -> None:
    database.use(database_at(tmp_path / "migrated.db"))
    with connected():
        migrate(now())
        migrated = described()
    database.use(database_at(tmp_path / "fresh.db"))
    with connected(), writing():
        create_fresh()
        fresh = described()

    assert migrated == fresh


def test_migrating_twice_takes_no_step_twice(house: AHouse) -> None:
    assert migrate(now()) == []
    assert [row.number for row in Migration.select()] == [step.number for step in steps()]


def test_steps_are_numbered_from_one_without_a_gap() -> None:
    assert [step.number for step in steps()] == list(range(1, len(list(steps())) + 1))


def test_a_step_that_breaks_leaves_the_schema_as_it_was(house: AHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    before = described()
    known = list(steps())
    broken = Step(number=len(known) + 1, name="broken", statements=("CREATE TABLE half (id TEXT)", "NO SQL"))
    monkeypatch.setattr("bedside.records.migrations.steps", lambda: iter([*known, broken]))

    with pytest.raises(peewee.DatabaseError):
        migrate(now())

    assert described() == before
    assert Migration.select().count() == len(known)


def test_a_database_of_a_newer_release_is_left_alone(house: AHouse) -> None:
    Migration.insert(number=99, name="later", taken_at="2027-01-01T00:00:00.000Z").execute()

    with pytest.raises(DatabaseFromTheFuture, match="newer release"):
        migrate(now())


def test_a_house_keeps_its_id_when_it_is_opened_again(tmp_path: Path) -> None:
    settings = Settings(home=tmp_path / "home")
    made = make_house(settings, now())

    open_house(settings, now())

    with connected():
        assert house_row().id == made


KEEPER = """
import sys
from pathlib import Path
from bedside.records.database import connected, database_at, use, writing
from bedside.records.tables import Ward
use(database_at(Path(sys.argv[1])))
with connected():
    for n in range(10_000):
        with writing():
            Ward.create(id=f"w-{n}", name=str(n))
        print(n, flush=True)
"""


def test_what_was_acknowledged_survives_a_killed_process(tmp_path: Path) -> None:
    make_house(Settings(home=tmp_path), now())
    path = tmp_path / "bedside.db"
    with subprocess.Popen([sys.executable, "-c", KEEPER, str(path)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        told = [int(process.stdout.readline()) for _ in range(30)]
        process.kill()
        told += [int(line) for line in process.stdout if line.endswith("\n")]

    database.use(HouseDatabase(str(path)))
    with connected():
        kept = {row.name for row in Ward.select()}
        assert pragma("integrity_check") == "ok"
    assert {str(n) for n in told} <= kept
