"""The hazard log holds: every control that is called built has a test that is there, and every code is in the book."""

from __future__ import annotations

import ast
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bedside.__main__ import main
from bedside.clinical.rulebook import default_book
from tests.cases.files import cases

Json = dict[str, Any]

HERE = Path(__file__).parent
LOG = HERE.parent / "bedside" / "exchange" / "hazards.toml"
HAZARDS: list[Json] = tomllib.loads(LOG.read_text(encoding="utf-8"))["hazard"]
NOT_ALWAYS_RUN = {"long", "skip", "skipif", "xfail"}
WORDS = {"id", "severity", "hazard", "control", "findings", "cases", "tests", "built", "lacks"}
KINDS_OF_CONTROL = ("design: ", "protection: ", "information: ")


@cache
def functions_of(path: Path) -> frozenset[str]:
    """The names of the tests in a file that every run makes; none when there is no such file.

    A run in which one of them fails is a failed run, so that every control called built has a passing test.
    """
    if not path.is_file():
        return frozenset()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and is_always_run(node))


def is_always_run(test: ast.FunctionDef) -> bool:
    """Report whether nothing keeps a test out of the ordinary run."""
    marks = {node.attr for mark in test.decorator_list for node in ast.walk(mark) if isinstance(node, ast.Attribute)}
    return not marks & NOT_ALWAYS_RUN


def is_there(test: str) -> bool:
    """Report whether a node id names a test of ours."""
    file, _, name = test.partition("::")
    return file.startswith("tests/") and name.startswith("test_") and name in functions_of(HERE.parent / file)


def wrong_with(hazard: Json) -> list[str]:
    """What keeps a row from being believed."""
    known = {name for command in ("judge", "tubes") for name, _ in cases(command)}
    proofs = [*hazard.get("tests", []), *hazard.get("cases", [])]
    told = [f"an unknown word: {word}" for word in set(hazard) - WORDS]
    told += [f"no such test: {test}" for test in hazard.get("tests", []) if not is_there(test)]
    told += [f"no such case: {case}" for case in hazard.get("cases", []) if case not in known]
    told += [f"no such finding: {code}" for code in hazard.get("findings", []) if code not in default_book().findings]
    if hazard["severity"] not in range(1, 6):
        told.append("severity is 1 to 5")
    if not hazard["control"].startswith(KINDS_OF_CONTROL):
        told.append("the control says whether it is design, protection or information")
    if hazard["built"] and not proofs:
        told.append("built, and no test proves it")
    if hazard["built"] == bool(hazard.get("lacks", "").strip()):
        told.append("what is not built says what it lacks, and what is built lacks nothing")
    return told


@pytest.mark.parametrize("hazard", HAZARDS, ids=[hazard["id"] for hazard in HAZARDS])
def test_hazard(hazard):
    assert wrong_with(hazard) == []


@pytest.mark.long
def test_this_one_is_kept_for_the_long_run():
    assert not is_there("tests/test_hazards.py::test_this_one_is_kept_for_the_long_run")


def test_the_printed_log_holds_every_hazard_and_room_to_sign(capsys):
    assert main(["hazards"]) == 0

    printed = capsys.readouterr().out
    assert [hazard["id"] for hazard in HAZARDS if f"## {hazard['id']}. {hazard['hazard']}" not in printed] == []
    assert [hazard["id"] for hazard in HAZARDS if hazard.get("lacks", "") not in printed] == []
    assert "| name | role | date | signature |" in printed


def test_no_hazard_stands_twice():
    ids = [hazard["id"] for hazard in HAZARDS]

    assert sorted(set(ids)) == sorted(ids)


def test_every_finding_of_the_book_guards_against_some_hazard():
    named = {code for hazard in HAZARDS for code in hazard.get("findings", [])}

    assert set(default_book().findings) - named == set()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            {"tests": ["tests/test_hazards.py::test_of_tomorrow"]},
            "no such test: tests/test_hazards.py::test_of_tomorrow",
        ),
        (
            {"tests": ["tests/test_hazards.py::test_this_one_is_kept_for_the_long_run"]},
            "no such test: tests/test_hazards.py::test_this_one_is_kept_for_the_long_run",
        ),
        ({"tests": ["tests/nowhere.py::test_hazard"]}, "no such test: tests/nowhere.py::test_hazard"),
        ({"cases": ["tourniquet: of tomorrow"]}, "no such case: tourniquet: of tomorrow"),
        ({"findings": ["of-tomorrow"]}, "no such finding: of-tomorrow"),
        ({"tests": []}, "built, and no test proves it"),
        ({"built": False}, "what is not built says what it lacks, and what is built lacks nothing"),
        ({"severity": 6}, "severity is 1 to 5"),
        ({"control": "we are careful"}, "the control says whether it is design, protection or information"),
    ],
)
def test_a_row_that_cannot_be_believed_is_seen(change, told):
    row = {
        "severity": 3,
        "hazard": "A hazard.",
        "control": "design: it cannot be",
        "tests": ["tests/test_hazards.py::test_hazard"],
        "built": True,
    }

    assert wrong_with(row) == []
    assert told in wrong_with({**row, **change})
