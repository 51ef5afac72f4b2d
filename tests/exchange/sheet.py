"""Orders files for the tests: one good row, and ways to spoil it."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path

import bedside.clinical
from bedside.clinical.directory import read_directory

DIRECTORY = read_directory((Path(bedside.clinical.__file__).parent / "directory.csv").read_text(encoding="utf-8"))
NOW = datetime(2026, 11, 25, 3, 30, tzinfo=UTC)

# Kaarina: a grown woman with a room, a bed and one order.
KAARINA = {
    "order": "A-1001",
    "record_number": "40031977",
    "family": "Ojala",
    "given": "Kaarina",
    "birth_date": "1951-03-09",
    "sex": "female",
    "ward": "5",
    "room": "14",
    "bed": "B",
    "test": "24321-2",
    "priority": "routine",
    "due_from": "2026-11-25T04:00Z",
    "due_to": "2026-11-25T07:00Z",
}


def row(**other: str) -> dict[str, str]:
    """Kaarina's row with other cells; a name that is no column yet becomes one."""
    return {**KAARINA, **other}


def sheet(*rows: dict[str, str]) -> bytes:
    """A file of these rows; its columns are those of the first row and any that others add."""
    columns = list(dict.fromkeys(name for one in rows for name in one))
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()
