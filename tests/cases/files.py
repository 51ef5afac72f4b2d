"""The files of this folder, read once: every case of every topic, each with a name of its own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tests.cases.expand import ExpandedCase, load

FOLDER = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Topic:
    """One file: what it is about, and its cases."""

    name: str
    about: str
    cases: tuple[ExpandedCase, ...]


@cache
def topics(folder: Path = FOLDER) -> tuple[Topic, ...]:
    """Every file of cases: the visits, the tube plans, and the numbers of the rule sheet."""
    paths = [path for room in (".", "tubes", "sheet") for path in sorted((folder / room).glob("*.json"))]
    return tuple(_topic(path) for path in paths)


def _topic(path: Path) -> Topic:
    about: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return Topic(name=path.stem, about=about["about"], cases=tuple(load(path)))


def cases(command: str) -> Iterator[tuple[str, ExpandedCase]]:
    """Every case of one command with its name, `topic: name`."""
    for topic in topics():
        for case in topic.cases:
            if case.command == command:
                yield f"{topic.name}: {case.name}", case


def answered(command: str) -> dict[str, ExpandedCase]:
    """The cases that have an answer, by name."""
    return {name: case for name, case in cases(command) if "bad_input" not in case.expect}


def refused(command: str) -> dict[str, ExpandedCase]:
    """The cases that are bad input, by name."""
    return {name: case for name, case in cases(command) if "bad_input" in case.expect}
