"""The orders file: every row is checked first, then all of it is taken or none.

`examine` is pure: bytes, the lab's directory and a moment in; orders and troubles out. Whether it agrees with
what the house already knows is asked in `bedside.exchange.orders_in`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from bedside.clinical.directory import Directory
from bedside.clinical.identity import same_name
from bedside.exchange.csv_rows import Row, bad_letter, read_rows
from bedside.exchange.order_cells import COLUMNS, NONE, OPTIONAL, REQUIRED, BadCell
from bedside.exchange.trouble import FileRefused, Trouble
from bedside.records.order_content import OrderContent, PatientFacts

EASTERNMOST = timedelta(hours=14)
"""A child can be born on a day that has not begun in UTC."""

ONE_PATIENT_ONE = {
    "birth_date": "birth date",
    "sex": "sex",
    "weight_kg": "weight",
    "height_m": "height",
}
"""What a patient has once; two values in one file would leave open which of them is meant."""


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One row of the file, read."""

    line: int
    order: OrderContent
    patient: PatientFacts


@dataclass(frozen=True, slots=True)
class Examined:
    """A file read: the rows that could be, and everything that is wrong with it."""

    rows: tuple[OrderRow, ...]
    troubles: tuple[Trouble, ...]

    def orders(self) -> list[OrderRow]:
        """The rows without repeats, in file order. FileRefused: something is wrong with the file."""
        if self.troubles:
            raise FileRefused(self.troubles)
        return list({row.order.number: row for row in self.rows}.values())

    def patients(self) -> list[PatientFacts]:
        """Each patient once, with what all of their rows say together."""
        found: dict[str, PatientFacts] = {}
        for row in self.rows:
            known = found.get(row.patient.record_number)
            found[row.patient.record_number] = together(known, row.patient) if known else row.patient
        return list(found.values())


def examine(data: bytes, directory: Directory, now: datetime) -> Examined:
    """Read and check a whole orders file.

    FileUnusable: it is too large, or no CSV text in UTF-8 at all.
    """
    cut = read_rows(data, REQUIRED, OPTIONAL)
    rows: list[OrderRow] = []
    troubles = list(cut.troubles)
    latest_birth = (now + EASTERNMOST).date()
    for row in cut.rows:
        read = _read(row, directory, latest_birth)
        if isinstance(read, OrderRow):
            rows.append(read)
        else:
            troubles.extend(read)
    troubles.extend(_contradictions(rows))
    return Examined(tuple(rows), tuple(sorted(troubles)))


def together(before: PatientFacts, after: PatientFacts) -> PatientFacts:
    """What two rows say about one patient: the later place, every restriction, a blood thinner if either says so."""
    said = {
        name: value if (value := getattr(after, name)) is not None else getattr(before, name)
        for name in PatientFacts.__slots__
    }
    arms = dict.fromkeys([*(before.restrictions or ()), *(after.restrictions or ())])
    says_arms = before.restrictions is not None or after.restrictions is not None
    return PatientFacts(
        **{
            **said,
            "family": before.family,
            "given": before.given,
            "restrictions": tuple(arms) if says_arms else None,
            "isolation": after.isolation or before.isolation or said["isolation"],
            "blood_thinner": True if before.blood_thinner else said["blood_thinner"],
            "latex_allergy": True if before.latex_allergy else said["latex_allergy"],
        }
    )


# --- one row ------------------------------------------------------------------------------------------


def _read(row: Row, directory: Directory, latest_birth: date) -> OrderRow | list[Trouble]:
    values: dict[str, Any] = {}
    troubles: list[Trouble] = []
    for column in COLUMNS:
        cell = row.cells.get(column.name, "")
        try:
            _refuse_bad_letters(cell)
            if cell:
                values[column.name] = column.read(cell)
            elif not column.may_be_empty:
                raise BadCell("is empty.", column.why)
        except BadCell as bad:
            troubles.append(Trouble(row.line, column.name, cell, bad.says, bad.do_next))
    troubles.extend(_disagreements(row, values, directory, latest_birth))
    return troubles or _order_row(row.line, values)


def _refuse_bad_letters(cell: str) -> None:
    letter = bad_letter(cell)
    if letter == "\ufffd":
        raise BadCell("has lost a letter (U+FFFD) on its way here.", "Export the file again as UTF-8.")
    if letter is not None:
        raise BadCell(f"holds a character that cannot be seen (U+{ord(letter):04X}).", "Type the cell again.")


def _disagreements(row: Row, values: dict[str, Any], directory: Directory, latest_birth: date) -> Iterator[Trouble]:
    """What is wrong between cells that can each be read."""
    said = row.cells
    if "birth_date" in values and values["birth_date"] > latest_birth:
        says = "is a birth date in the future."
        yield Trouble(row.line, "birth_date", said["birth_date"], says, "Write the day the patient was born.")
    if "test" in values and directory.find(values["test"]) is None:
        says = "is no test of the laboratory's directory, so nobody knows which tube it needs."
        yield Trouble(row.line, "test", said["test"], says, "Write a LOINC code or the directory's own code.")
    if {"due_from", "due_to"} <= values.keys() and values["due_to"] < values["due_from"]:
        says = f"is before due_from ({said['due_from']}), so the order could never be on time."
        yield Trouble(row.line, "due_to", said["due_to"], says, "Write a time at or after due_from.")
    yield from _half_a_series(row, values)


def _half_a_series(row: Row, values: dict[str, Any]) -> Iterator[Trouble]:
    """A specimen of a series needs both: after what, and how long after it."""
    starts = [name for name in ("after_order", "after_at") if row.cells.get(name)]
    if len(starts) == 2:
        says = "is a second start of the series; after_order names one already."
        yield Trouble(row.line, "after_at", row.cells["after_at"], says, "Leave one of the two empty.")
    if starts and not row.cells.get("after_min"):
        says = "does not say how long after it."
        yield Trouble(row.line, starts[0], row.cells[starts[0]], says, "Write the minutes in after_min.")
    if not starts and row.cells.get("after_min"):
        says = "does not say after what."
        yield Trouble(row.line, "after_min", row.cells["after_min"], says, "Fill in after_order or after_at.")
    if values.get("after_order") == values.get("order") and "after_order" in values:
        says = "is this very order."
        yield Trouble(row.line, "after_order", row.cells["after_order"], says, "Name the first order of the series.")


def _order_row(line: int, values: dict[str, Any]) -> OrderRow:
    about = {name: values[name] for name in PatientFacts.__slots__ if name in values}
    if about.get("isolation", "").casefold() == NONE:
        about["isolation"] = ""
    content = {name: values[name] for name in OrderContent.__slots__ if name in values}
    return OrderRow(line, OrderContent(number=values["order"], **content), PatientFacts(**about))


# --- between rows -------------------------------------------------------------------------------------


def _contradictions(rows: Iterable[OrderRow]) -> Iterator[Trouble]:
    """Rows that cannot both be true: one order number with two contents, one patient who is two people."""
    orders: dict[str, OrderRow] = {}
    patients: dict[str, OrderRow] = {}
    for row in rows:
        earlier = orders.setdefault(row.order.number, row)
        if earlier.order != row.order:
            yield Trouble(
                row.line,
                "order",
                row.order.number,
                f"stands in line {earlier.line} with another content, so one of the two would be lost.",
                "Give each order its own number.",
            )
        first = patients.get(row.patient.record_number, row)
        yield from _two_people(row, first)
        patients[row.patient.record_number] = replace(first, patient=together(first.patient, row.patient))


def _two_people(row: OrderRow, first: OrderRow) -> Iterator[Trouble]:
    here, there = row.patient, first.patient
    if here.name != there.name and not same_name(here.name, there.name):
        says = f"is not the name that record number {here.record_number} has in line {first.line} ({there.name})."
        yield Trouble(row.line, "family", here.name, says, "Find out on the ward who this is, then correct it.")
    for column, words in ONE_PATIENT_ONE.items():
        value, other = getattr(here, column), getattr(there, column)
        if value is not None and other is not None and value != other:
            says = f"is a second {words} for record number {here.record_number}; line {first.line} says {other}."
            do_next = "Find out on the ward which is right, then correct it."
            yield Trouble(row.line, column, str(value), says, do_next)
