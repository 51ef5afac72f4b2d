"""A CSV file as rows with line numbers: encoding, size, columns. What the cells mean is not decided here."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field

from bedside.exchange.trouble import FileUnusable, Trouble

LARGEST_BYTES = 2 * 1024 * 1024
MOST_ROWS = 5000
"""A large hospital's morning is a tenth of this; more is a wrong file."""

BYTE_ORDER_MARK = "\ufeff"
JOINERS = "\u200c\u200d"
"""Invisible, but part of how some scripts are written."""

OTHER_ENCODINGS = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line it begins on (the first is 1) and its cells by column, trimmed."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Rows:
    """All rows that could be cut into cells, and what was wrong with the others."""

    rows: tuple[Row, ...] = ()
    troubles: tuple[Trouble, ...] = field(default=())


def read_rows(data: bytes, required: tuple[str, ...], optional: tuple[str, ...]) -> Rows:
    """Cut a CSV file into rows; the first line names the columns, empty lines are passed over.

    FileUnusable: too large, too many rows, not UTF-8, or empty.
    """
    lines = _lines(decode(data))
    line, first = next(lines, (1, []))
    if isinstance(first, Trouble):
        return Rows(troubles=(first,))
    if not first:
        raise FileUnusable("The file is empty. Its first line has to name the columns, then one order a line.")
    header = [name.strip() for name in first]
    wrong = tuple(_wrong_columns(line, header, required, optional))
    return Rows(troubles=wrong) if wrong else _rows(header, lines)


def decode(data: bytes) -> str:
    """Read the bytes as UTF-8, with or without a byte order mark.

    FileUnusable: more than 2 MiB, another encoding, or a broken one, named by its line.
    """
    if len(data) > LARGEST_BYTES:
        raise FileUnusable(
            f"The file is larger than {LARGEST_BYTES:,} bytes (2 MiB), the most that is taken, so that a wrong "
            "file cannot stop the house. Send it in parts."
        )
    if data.startswith(OTHER_ENCODINGS):
        raise FileUnusable("The file is UTF-16, so its letters would be misread. Save it as CSV UTF-8.")
    try:
        return data.decode("utf-8").removeprefix(BYTE_ORDER_MARK)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FileUnusable(
            f"Line {line} is not UTF-8 (byte 0x{data[error.start]:02x}), so a name could be misread. "
            "Save the file as CSV UTF-8."
        ) from None


def _lines(text: str) -> Iterator[tuple[int, list[str] | Trouble]]:
    """Each non-empty row with the line it begins on; what is no CSV comes last, as trouble."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    begins = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        do_next = "Quote cells that hold commas or quotation marks, and close every quotation mark."
        yield begins, Trouble(begins, "(line)", "", f"is not CSV ({error}); nothing after it can be read.", do_next)


def _rows(header: list[str], lines: Iterator[tuple[int, list[str] | Trouble]]) -> Rows:
    rows: list[Row] = []
    troubles: list[Trouble] = []
    for line, cells in lines:
        if isinstance(cells, Trouble):
            troubles.append(cells)
        elif len(cells) != len(header):
            says = f"is a row of {len(cells)} cells, but the first line names {len(header)} columns."
            troubles.append(Trouble(line, "(line)", ",".join(cells), says, "Add or remove commas."))
        else:
            rows.append(Row(line, dict(zip(header, map(tidy, cells), strict=True))))
        if len(rows) > MOST_ROWS:
            raise FileUnusable(f"The file has more than {MOST_ROWS:,} rows. Send it in parts.")
    return Rows(tuple(rows), tuple(troubles))


def _wrong_columns(
    line: int, header: list[str], required: tuple[str, ...], optional: tuple[str, ...]
) -> Iterator[Trouble]:
    known = (*required, *optional)
    if len(header) == 1 and ";" in header[0]:
        yield Trouble(line, "(columns)", header[0], "is one column: semicolons part nothing.", "Use commas.")
        return
    for name in dict.fromkeys(header):
        if name not in known:
            says = "is a column nobody here knows, so what it says about a patient would be lost."
            yield Trouble(line, name or "(columns)", name, says, f"Leave it out. Columns are: {', '.join(known)}.")
        elif header.count(name) > 1:
            says = "names a column twice, so two values would stand for one thing."
            yield Trouble(line, name, name, says, "Leave one of them out.")
    for name in required:
        if name not in header:
            yield Trouble(line, name, name, "is missing among the columns.", f"Add the column {name}.")


def tidy(cell: str) -> str:
    """A cell without spaces around it, its letters composed (NFC), so that equal texts are equal."""
    return unicodedata.normalize("NFC", cell.strip())


def bad_letter(cell: str) -> str | None:
    """The first character that no cell may hold: a control, something invisible, or a lost letter (U+FFFD)."""
    for letter in cell:
        unseen = unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Cn", "Zl", "Zp") and letter not in JOINERS
        if unseen or letter == "\ufffd":
            return letter
    return None
