"""`bedside init` and `bedside people`, as somebody types them."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from bedside.__main__ import main
from bedside.records.database import connected
from bedside.records.tables import Person


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def type_password(monkeypatch: pytest.MonkeyPatch, password: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(password + "\n"))


def test_a_fresh_house_has_no_account_and_making_it_twice_changes_nothing(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["init"]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert main(["init"]) == 0

    assert capsys.readouterr().out.splitlines()[0] == first
    with connected():
        assert Person.select().count() == 0


def test_keys_are_readable_by_their_owner_alone(home: Path) -> None:
    main(["init"])

    assert {path.stat().st_mode & 0o777 for path in (home / "keys").iterdir()} == {0o600}


def test_a_person_is_added_listed_and_disabled(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["init"])
    type_password(monkeypatch, "copper kettle at dawn")

    assert main(["people", "add", "ines", "--role", "phlebotomist", "--name", "Ines Baptista"]) == 0
    assert main(["people", "disable", "ines"]) == 0
    capsys.readouterr()
    assert main(["people", "list"]) == 0

    (line,) = capsys.readouterr().out.splitlines()
    assert line.startswith("ines") and "Ines Baptista" in line and "disabled" in line


def test_a_password_that_will_not_do_makes_no_account(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["init"])
    type_password(monkeypatch, "short")

    assert main(["people", "add", "ines", "--role", "keeper", "--name", "Ines"]) == 2

    assert "needs 15" in capsys.readouterr().err
    with connected():
        assert Person.select().count() == 0


def test_an_unknown_name_and_a_missing_house_are_said_on_one_line(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["people", "list"]) == 2
    assert "bedside init" in capsys.readouterr().err
    main(["init"])
    assert main(["people", "disable", "nobody"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_key_others_can_read_is_refused(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["init"])
    (home / "keys" / "pepper.key").chmod(0o644)
    type_password(monkeypatch, "copper kettle at dawn")

    assert main(["people", "add", "ines", "--role", "keeper", "--name", "Ines"]) == 2
    assert "chmod 600" in capsys.readouterr().err
