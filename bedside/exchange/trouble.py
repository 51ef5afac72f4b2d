"""What is wrong with a file somebody handed in: where, what, why it matters, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

SHOWN = 60
"""Characters of a bad cell that are repeated; the rest is dots."""


@dataclass(frozen=True, slots=True, order=True)
class Trouble:
    """One bad cell. `line` counts the lines of the file from 1; `column` is the column's name."""

    line: int
    column: str
    value: str
    says: str
    do_next: str

    def __str__(self) -> str:
        return f"line {self.line}, column {self.column}: {shown(self.value)} {self.says} {self.do_next}"


class FileUnusable(Exception):
    """A file that cannot be looked at row by row at all: too large, not text, no columns."""


class FileRefused(Exception):
    """A file was looked at and nothing of it was taken; `troubles` names every bad cell."""

    def __init__(self, troubles: Iterable[Trouble]) -> None:
        self.troubles = tuple(sorted(troubles))
        super().__init__("\n".join(str(trouble) for trouble in self.troubles))


def shown(value: str) -> str:
    """A cell as it can safely be shown: quoted, on one line, invisible characters written out."""
    short = value if len(value) <= SHOWN else value[: SHOWN - 1] + "…"
    return '"' + "".join(letter if letter.isprintable() else f"\\u{ord(letter):04x}" for letter in short) + '"'
