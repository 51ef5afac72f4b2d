"""Backups: made while the house is at work, verified, and restored as another house."""

from __future__ import annotations

from pathlib import Path

import pytest

from bedside.__main__ import main
from bedside.app import create_app
from bedside.records.database import connected, db, on_postgres
from bedside.records.house import house as house_row
from bedside.records.tables import Event, House
from tests.a_house import AHouse, ATablet, drawn, visit_of


@pytest.fixture
def worked(house: AHouse, monkeypatch: pytest.MonkeyPatch) -> tuple[AHouse, ATablet]:
    monkeypatch.setenv("BEDSIDE_HOME", str(house.settings.home))
    tablet = house.tablet()
    tablet.send(drawn(tablet, visit_of(tablet.packet(), "Kaarina")))
    return house, tablet


def test_a_backup_is_one_file_for_its_owner_alone(worked: tuple[AHouse, ATablet], tmp_path: Path) -> None:
    target = tmp_path / "kept" / "house.backup"
    target.parent.mkdir()

    assert main(["backup", str(target)]) == 0

    assert [path.name for path in target.parent.iterdir()] == ["house.backup"]
    assert target.stat().st_mode & 0o777 == 0o600


def test_a_backup_is_never_written_over(worked: tuple[AHouse, ATablet], tmp_path: Path) -> None:
    target = tmp_path / "house.backup"
    target.write_text("something else")

    assert main(["backup", str(target)]) == 2
    assert target.read_text() == "something else"


def test_a_restored_house_has_a_new_id_and_everything_else(
    worked: tuple[AHouse, ATablet], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    house, _ = worked
    events = sorted(row.id for row in Event.select())
    serial = house_row().next_serial
    main(["backup", str(tmp_path / "house.backup")])
    db.close()

    assert main(["restore", str(tmp_path / "house.backup")]) == 0

    assert main(["verify"]) == 0
    with connected():
        assert sorted(row.id for row in Event.select()) == events
        assert house_row().id != house.id
        assert house_row().next_serial > serial
        assert former_database_is_kept(house)


def former_database_is_kept(house: AHouse) -> bool:
    if on_postgres():
        return "before_" in str(db.execute_sql("SELECT nspname FROM pg_namespace").fetchall())
    return any("before" in path.name for path in house.settings.home.iterdir())


def test_a_tablet_brings_home_again_what_the_backup_did_not_hold(
    worked: tuple[AHouse, ATablet], tmp_path: Path
) -> None:
    house, tablet = worked
    main(["backup", str(tmp_path / "house.backup")])
    karin = visit_of(tablet.packet(), "Karin")
    later = drawn(tablet, karin)
    tablet.send(later)
    db.close()
    main(["restore", str(tmp_path / "house.backup")])
    restored = AHouse(settings=house.settings, app=create_app(house.settings), people=house.people)

    with connected():
        again = restored.tablet()
        again.name = tablet.name
        statuses = {answer["status"] for answer in again.send(later)}
        count = Event.select().where(Event.visit == karin["id"]).count()

    assert statuses == {"stored"}
    assert count == len(later)


@pytest.mark.parametrize("content", [b"", b"no database", b"SQLite format 3\x00" + b"\x00" * 5000])
def test_a_file_that_is_no_backup_leaves_the_house_as_it_was(
    worked: tuple[AHouse, ATablet], tmp_path: Path, content: bytes
) -> None:
    house, _ = worked
    wrong = tmp_path / "wrong"
    wrong.write_bytes(content)
    db.close()

    assert main(["restore", str(wrong)]) == 2
    assert main(["restore", str(tmp_path / "missing")]) == 2

    with connected():
        assert House.get().id == house.id
    assert sorted(path.name for path in house.settings.home.iterdir() if path.suffix == ".restoring") == []
