"""A laboratory's CSV text as lines and tables, and the cells of it that cannot be used."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Line = tuple[int, list[str]]
"""A line's number in the file, the first is 1, and its cells."""

OTHER_TABLES = ("container", "keeps_apart")
"""A line that begins with one of these words begins a table of its own; before it stand the tests."""

NUMBER_SHAPE = re.compile(r"\d{1,4}(\.\d{1,3})?")


@dataclass(frozen=True, slots=True)
class BadCell:
    """One cell that cannot be used: line (the first is 1), column, what stands there, and why not."""

    line: int
    column: str
    value: str
    why: str

    def __str__(self) -> str:
        return f"line {self.line}, {self.column}: {self.value!r}: {self.why}"


class DirectoryRefused(Exception):
    """The directory is taken whole or not at all; these cells stop it."""

    def __init__(self, problems: Iterable[BadCell]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def lines_of(text: str) -> list[Line]:
    """Every line that holds anything. `DirectoryRefused` for an empty text and for what is not CSV."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    lines: list[Line] = []
    try:
        for values in reader:
            if any(value.strip() for value in values):
                lines.append((reader.line_num, [value.strip() for value in values]))
    except csv.Error as error:
        raise DirectoryRefused([BadCell(reader.line_num, "line", "", f"not CSV ({error})")]) from error
    if not lines:
        raise DirectoryRefused([BadCell(1, "line", "", "empty; the first line names the columns")])
    return lines


def tables_of(lines: Sequence[Line]) -> dict[str, list[Line]]:
    """The file's tables, by the word each begins with; `tests` is the first. A table given twice is refused."""
    tables: dict[str, list[Line]] = {"tests": []}
    word = "tests"
    for line, values in lines:
        if values[0] in OTHER_TABLES:
            word = values[0]
            if word in tables:
                raise DirectoryRefused([BadCell(line, "line", word, "this table stands in the file already")])
            tables[word] = []
        tables[word].append((line, values))
    return tables


def header_of(table: Sequence[Line], columns: Sequence[str], needed: Sequence[str]) -> list[str]:
    """The names in a table's first line. `DirectoryRefused` for one unknown, missing, or named twice."""
    line, names = table[0]
    problems = [
        BadCell(line, "columns", name, f"no such column; there are {', '.join(columns)}")
        for name in names
        if name not in columns
    ]
    problems += [BadCell(line, "columns", name, "this column is needed") for name in needed if name not in names]
    problems += [
        BadCell(line, "columns", name, "this column is named twice")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    if problems:
        raise DirectoryRefused(problems)
    return names


def short_rows(table: Sequence[Line], columns: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """The rows of a table narrower than the tests': a spreadsheet pads it, so that empty cells at the end are none."""
    first, names = table[0]
    names = header_of([(first, _unpadded(names))], columns, columns)
    rows = []
    for line, values in table[1:]:
        cells = _unpadded(values)
        if len(cells) > len(names):
            raise DirectoryRefused(
                [BadCell(line, "line", ",".join(cells), f"{len(cells)} cells for {len(names)} columns")]
            )
        rows.append((line, dict(zip(names, [*cells, *[""] * (len(names) - len(cells))], strict=True))))
    return rows


def _unpadded(values: Sequence[str]) -> list[str]:
    filled = [place for place, value in enumerate(values, start=1) if value]
    return list(values[: max(filled, default=0)])
