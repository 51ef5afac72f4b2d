"""`bedside orders FILE`: exit status 0 taken in, 1 refused with the list, 2 unusable."""

from __future__ import annotations

from pathlib import Path

import pytest

from bedside.__main__ import main
from bedside.records.database import connected
from bedside.records.house import make_house
from bedside.records.tables import Order
from bedside.settings import Settings
from tests.exchange.sheet import KAARINA, NOW, row, sheet
from tests.exchange.test_orders_in import BO


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path / "house"))
    make_house(Settings(home=tmp_path / "house"), NOW)


def orders_kept() -> int:
    with connected():
        return int(Order.select().count())


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "morning.csv"


def test_the_command_takes_a_file_in_and_says_how_many(file, capsys):
    file.write_bytes(sheet(KAARINA, BO))

    assert main(["orders", str(file)]) == 0
    assert capsys.readouterr().out.startswith("2 orders taken in; 2 new patients")
    assert main(["orders", str(file)]) == 0
    assert capsys.readouterr().out == "This file was taken in before. Nothing changed.\n"


def test_the_command_only_checks_when_asked(file, capsys):
    file.write_bytes(sheet(KAARINA))

    assert main(["orders", "--check", str(file)]) == 0
    assert "1 order could be taken in" in capsys.readouterr().out
    assert orders_kept() == 0


@pytest.mark.parametrize("words", [["orders"], ["orders", "--check"]])
def test_the_command_lists_every_bad_cell_and_says_that_it_refused(words, file, capsys):
    file.write_bytes(sheet(row(sex="F"), row(order="A-1002", due_to="never")))

    assert main([*words, str(file)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "line 2, column sex" in told.err
    assert "line 3, column due_to" in told.err
    assert orders_kept() == 0


@pytest.mark.parametrize("data", [b"", "order;straße".encode("latin-1"), b"x" * (2 * 1024 * 1024 + 1)])
def test_the_command_says_that_a_file_is_unusable(data, file, capsys):
    file.write_bytes(data)

    assert main(["orders", str(file)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_the_command_says_that_there_is_no_such_file(tmp_path, capsys):
    assert main(["orders", str(tmp_path / "none.csv")]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_the_command_says_that_there_is_no_house(tmp_path, monkeypatch, file, capsys):
    file.write_bytes(sheet(KAARINA))
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path / "nowhere"))

    assert main(["orders", str(file)]) == 2
    assert "bedside init" in capsys.readouterr().err
