"""The map in `tests/README.md` names every known way of losing an event, and only tests that exist."""

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


def test_every_row_names_a_test_or_says_that_there_is_none():
    told = {**rows("F"), **rows("C")}

    silent = [name for name, row in told.items() if not re.search(r"`test_|\*\*None\*\*|does not apply|\.json`", row)]
    assert silent == []
