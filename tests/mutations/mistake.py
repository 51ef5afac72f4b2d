"""One mistake: where it is, what was changed, and the whole text of the file with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from random import Random

NOT_A_PROGRAM = "not a program"


class CasesFail(AssertionError):
    """The cases fail without any mistake."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """line, inside: where it begins, and that line. what: the change. text: the file's whole text with it."""

    file: str
    line: int
    what: str
    inside: str
    text: str

    def __str__(self) -> str:
        return f"{self.file}: {self.what} | {self.inside}"


def made(file: str, source: str, start: int, end: int, new: str, what: str = "") -> Mistake:
    """The mistake of writing `new` in place of the characters from `start` to `end`."""
    old = " ".join(source[start:end].split())
    now = " ".join(new.split()) or "nothing"
    line = source.count("\n", 0, start) + 1
    inside = _short(source.splitlines()[line - 1].strip())
    return Mistake(file, line, what or f"{_short(old)} -> {_short(now)}", inside, source[:start] + new + source[end:])


def once_each(mistakes: Iterable[Mistake]) -> list[Mistake]:
    """Two ways to the same text are one mistake."""
    return list({mistake.text: mistake for mistake in mistakes}.values())


def counted(judged: Iterable[tuple[Mistake, str | None]]) -> Iterator[tuple[Mistake, str | None]]:
    """Only the mistakes that are programs: what does not even load is no test of the cases."""
    return ((mistake, case) for mistake, case in judged if case != NOT_A_PROGRAM)


def some(mistakes: list[Mistake], number: int, seed: int = 20261125) -> list[Mistake]:
    """A sample, always the same one of the same mistakes."""
    return Random(seed).sample(mistakes, min(number, len(mistakes)))


def _short(text: str) -> str:
    return text if len(text) <= 70 else text[:67] + "..."
