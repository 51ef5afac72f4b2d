"""What is demanded of a PostgreSQL server, what is said to it differently, and how a house moves there and back."""

from __future__ import annotations

import shutil
from pathlib import Path

import peewee
import psycopg
import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from bedside.__main__ import main
from bedside.commands.serve import run_server
from bedside.records.database import DatabaseUnfit, connected, db, let_go, use, writing
from bedside.records.dialect import in_postgres
from bedside.records.engine import database_of
from bedside.records.house import house as house_row
from bedside.records.migrations import migrate
from bedside.records.moments import now
from bedside.records.postgres import escaped, refuse_weaker, unescaped
from bedside.records.schema import create_fresh, described
from bedside.records.tables import Event, Ward
from bedside.settings import Settings
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, drawn, settings_at, visit_of
from tests.databases import DATABASES

pytestmark = pytest.mark.postgres_only


@pytest.fixture
def worked(house: AHouse, monkeypatch: pytest.MonkeyPatch) -> tuple[AHouse, ATablet]:
    """A house on the server in which one patient was drawn."""
    monkeypatch.setenv("BEDSIDE_HOME", str(house.settings.home))
    tablet = house.tablet()
    tablet.send(drawn(tablet, visit_of(tablet.packet(), "Kaarina")))
    return house, tablet


def test_every_connection_commits_durably_and_obeys_references(house: AHouse) -> None:
    told = {
        name: db.execute_sql(f"SHOW {name}").fetchone()[0] for name in ("synchronous_commit", "fsync", "lock_timeout")
    }

    assert told == {"synchronous_commit": "on", "fsync": "on", "lock_timeout": "5s"}


@pytest.mark.parametrize(
    ("name", "weaker"),
    [("synchronous_commit", "off"), ("synchronous_commit", "local"), ("session_replication_role", "replica")],
)
def test_a_server_that_promises_less_stops_the_app(house: AHouse, name: str, weaker: str) -> None:
    refuse_weaker(db.connection())
    db.execute_sql(f"SET {name} = {weaker}")

    with pytest.raises(DatabaseUnfit, match=f"{name} = {weaker}"):
        refuse_weaker(db.connection())
    db.execute_sql(f"RESET {name}")


def test_a_kept_connection_is_asked_again_before_it_is_used(house: AHouse) -> None:
    db.execute_sql("SET synchronous_commit = off")
    db.close()

    with pytest.raises(DatabaseUnfit, match="synchronous_commit = off"):
        db.connect()


def test_a_server_without_fsync_is_not_served_from(tmp_path: Path, house: AHouse) -> None:
    """The server says so itself: `fsync` is of the whole server, so the test puts the word in the answer's place."""
    told = "SELECT 'on', 'off', 'on', 'read committed', 'UTF8', 'origin'"

    class Answers:
        def execute(self, _: str) -> psycopg.Cursor[tuple[str, ...]]:
            return db.connection().execute(told)

    with pytest.raises(DatabaseUnfit, match="fsync = off"):
        refuse_weaker(Answers())


def test_migrating_gives_the_same_schema_as_making_it_fresh(engine: str, tmp_path: Path) -> None:
    use(database_of(Settings(home=tmp_path, database_url=DATABASES.new())))
    with connected():
        migrate(now())
        migrated = described()
    use(database_of(Settings(home=tmp_path, database_url=DATABASES.new())))
    with connected(), writing():
        create_fresh()
        fresh = described()

    assert migrated == fresh
    assert len(migrated) > 500


def test_a_trigger_of_another_shape_is_not_passed_over() -> None:
    with pytest.raises(ValueError, match="Teach"):
        in_postgres('CREATE TRIGGER "x" AFTER INSERT ON "event" BEGIN SELECT 1; END')


def test_what_is_written_once_cannot_be_emptied_either(house: AHouse) -> None:
    with pytest.raises(peewee.IntegrityError, match="written once"):
        db.execute_sql("TRUNCATE event CASCADE")


@given(st.text(alphabet=st.sampled_from("a0\x00\ue000é"), max_size=12))
def test_every_text_is_read_as_it_was_written(text: str) -> None:
    assert unescaped(escaped(text)) == text
    assert "\x00" not in escaped(text)


@hypothesis_settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(max_size=20))
@example(text="a\x00b\ue0000\ue000")
def test_the_server_keeps_every_character_there_is(house: AHouse, text: str) -> None:
    Ward.insert(id="w-odd", name=text).execute()

    kept = Ward.get_by_id("w-odd").name
    Ward.delete_by_id("w-odd")

    assert kept == text


def test_a_server_that_went_and_came_back_is_used_again(worked: tuple[AHouse, ATablet]) -> None:
    """Every process of it that serves the house is ended, and nobody told the house."""
    house, tablet = worked
    kept = database_of(house.settings)
    db.close()
    with psycopg.connect(kept.database, autocommit=True) as other:
        other.execute("SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE application_name = 'bedside'")

    assert tablet.hello().status_code == 200
    assert {one["status"] for one in tablet.send([tablet.event("arrived", None)])} == {"set-aside"}


def test_while_the_server_is_not_there_a_tablet_is_told_to_wait_and_then_goes_on(
    worked: tuple[AHouse, ATablet], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house, tablet = worked
    letter = {"house": house.id, "tablet": tablet.name, "events": [tablet.event("arrived", None)]}
    db.close()
    let_go()

    with monkeypatch.context() as away:
        away.setattr(db.obj, "database", f"postgresql://nobody@/house?host={tmp_path}")
        told = tablet.post(letter)

    assert (told.status_code, told.get_json()["code"]) == (503, "cannot-save")
    assert tablet.post(letter).status_code == 200


def test_a_server_that_is_not_there_is_said_and_its_password_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path))
    monkeypatch.setenv("DATABASE_URL", f"postgresql://ward:copper-kettle@/house?host={tmp_path}")

    assert main(["init"]) == 1
    assert main(["serve", "--port", "0"]) == 2

    told = capsys.readouterr()
    assert "The database cannot be used" in told.err
    assert "copper-kettle" not in told.err + told.out + repr(Settings.from_environment())


def test_another_engine_is_refused_by_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path))
    monkeypatch.setenv("DATABASE_URL", "oracle://somewhere/house")

    assert main(["init"]) == 2

    assert "'oracle'" in capsys.readouterr().err


def test_an_empty_database_has_no_house(
    engine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path))
    monkeypatch.setenv("DATABASE_URL", DATABASES.new())

    assert main(["verify"]) == 2
    assert "bedside init" in capsys.readouterr().err


def test_a_house_on_sqlite_is_served_by_one_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path))

    assert main(["serve", "--port", "0", "--workers", "2"]) == 2

    assert "one process" in capsys.readouterr().err
    assert run_server.__kwdefaults__["workers"] == 1


def test_a_house_moves_from_sqlite_to_the_server_and_back(
    built_house: Path, engine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, there, back = (tmp_path / name for name in ("home", "there", "back"))
    shutil.copytree(built_house, home)
    monkeypatch.setenv("BEDSIDE_HOME", str(home))
    assert main(["backup", str(tmp_path / "first.backup")]) == 0
    rows = rows_now()

    monkeypatch.setenv("BEDSIDE_HOME", str(there))
    monkeypatch.setenv("DATABASE_URL", DATABASES.new())
    assert main(["restore", str(tmp_path / "first.backup")]) == 0
    on_server = rows_now()
    with connected(), writing():
        Ward.insert(id="w-new", name="numbered on").execute()
    assert main(["verify"]) == 0
    assert main(["backup", str(tmp_path / "second.backup")]) == 0

    monkeypatch.delenv("DATABASE_URL")
    monkeypatch.setenv("BEDSIDE_HOME", str(back))
    assert main(["restore", str(tmp_path / "second.backup")]) == 0
    assert main(["verify"]) == 0
    assert rows == on_server == [row for row in rows_now() if row != "w-new"]
    use(database_of(Settings(home=home)))


def rows_now() -> list[str]:
    """What stands in three tables of quite different columns, without what a restore changes."""
    with connected():
        told = [str(row) for row in db.execute_sql("SELECT id, sealed, body FROM event ORDER BY id").fetchall()]
        people = db.execute_sql("SELECT id, name, ward_id FROM person ORDER BY id").fetchall()
        wards = [row[0] for row in db.execute_sql("SELECT id FROM ward ORDER BY id").fetchall()]
        patients = db.execute_sql("SELECT id, weight_kg, restrictions FROM patient ORDER BY id").fetchall()
    return [*told, *map(str, people), *wards, *map(str, patients)]


def test_a_restored_house_numbers_its_rows_after_those_that_came(
    worked: tuple[AHouse, ATablet], tmp_path: Path
) -> None:
    """The audit record and the answers go on where the backup ended; rows the server numbers are not numbered twice."""
    house, tablet = worked
    main(["backup", str(tmp_path / "house.backup")])
    db.close()
    assert main(["restore", str(tmp_path / "house.backup")]) == 0

    restored = AHouse.opened(house.settings.home)
    with connected():
        again = restored.tablet()
        again.name, again.seq = tablet.name, tablet.seq
        karin = visit_of(again.packet(), "Karin")
        assert {one["status"] for one in again.send(drawn(again, karin))} == {"stored"}
        assert [check for check in checks() if check.fault] == []
        assert house_row().id != house.id


def test_a_house_is_not_restored_under_a_server_that_has_it_open(
    worked: tuple[AHouse, ATablet], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    house, _ = worked
    assert main(["backup", str(tmp_path / "house.backup")]) == 0

    with psycopg.connect(settings_at(house.settings.home).database_url or "", application_name="bedside"):
        assert main(["restore", str(tmp_path / "house.backup")]) == 2

    assert "Stop every server" in capsys.readouterr().err
    with connected():
        assert house_row().id == house.id
        assert Event.select().count() > 10
