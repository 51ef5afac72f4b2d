"""The map in `tests/README.md` names every known way of losing an event, or a patient's data, and only real tests."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parent
MAP = (TESTS / "README.md").read_text(encoding="utf-8")
EVERY_TEST = {
    name for path in TESTS.rglob("test_*.py") for name in re.findall(r"^def (test_\w+)", path.read_text(), re.MULTILINE)
}


def rows(letter: str) -> dict[str, str]:
    """The rows of one kind, by number."""
    return dict(re.findall(rf"^\| ({letter}\d+)\b(.*)$", MAP, re.MULTILINE))


def test_every_test_the_map_names_exists():
    named = set(re.findall(r"`(test_\w+)`", MAP))

    assert named - EVERY_TEST == set()
    assert len(named) > 50


def test_every_failure_and_every_crash_point_has_its_row():
    assert list(rows("F")) == [f"F{number}" for number in range(1, 59)]
    assert list(rows("C")) == [f"C{number}" for number in range(1, 12)]
    assert list(rows("T")) == [f"T{number}" for number in range(1, 15)]
    assert list(rows("S")) == [f"S{number}" for number in range(1, 8)]


def test_every_row_names_a_test_or_says_that_there_is_none():
    told = {**rows("F"), **rows("C"), **rows("T"), **rows("S")}

    silent = [name for name, row in told.items() if not re.search(r"`test_|\*\*None\*\*|does not apply|\.json`", row)]
    assert silent == []


def test_what_is_asked_of_tablets_is_shown_by_tests_that_carry_its_id():
    shown = {name: re.findall(r"`(test_\w+)`", row) for name, row in rows("T").items()}

    assert [name for name, tests in shown.items() if tests and not any("_T_" in test for test in tests)] == ["T13"]
