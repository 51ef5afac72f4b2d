"""How each cell of an orders file is read: text in, a value out, or `BadCell` with what is wrong and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from bedside.clinical.tube_request import HEIGHT_M, HEMATOCRIT_PERCENT, SEXES, WEIGHT_KG
from bedside.labels.band import RECORD_NUMBER
from bedside.records.order_content import Restriction

DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})", re.ASCII)
NUMBER = re.compile(r"\d{1,4}(\.\d{1,3})?", re.ASCII)
MINUTES = re.compile(r"\d{1,4}", re.ASCII)
LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*", re.ASCII)

FIRST_BIRTH = date(1890, 1, 1)
NONE = "none"
A_DAY_MIN = 1440

PRIORITIES = ("stat", "asap", "urgent", "routine")
SIDES = ("left", "right")
WHYS = ("fistula", "lymph_nodes", "iv", "other")
COLLECTORS = ("phlebotomist", "nurse")
YES, NO = ("yes", "true", "1"), ("no", "false", "0")
UNKNOWN = ("unknown",)
VENOUS = ("venous", "venous blood", "blood")


class BadCell(ValueError):
    """A cell that cannot be used."""

    def __init__(self, says: str, do_next: str) -> None:
        super().__init__(f"{says} {do_next}")
        self.says = says
        self.do_next = do_next


@dataclass(frozen=True, slots=True)
class Column:
    """One column: how its cells are read, whether the file must have it and whether a cell may be empty."""

    name: str
    read: Callable[[str], Any]
    in_every_file: bool = True
    may_be_empty: bool = False
    why: str = ""


def text(most: int) -> Callable[[str], str]:
    """Any text up to a length. A cell that looks like a formula is text too: nothing here calculates."""

    def read(cell: str) -> str:
        if len(cell) > most:
            raise BadCell(f"has {len(cell)} characters.", f"Shorten it to {most}.")
        return cell

    return read


def family_name(cell: str) -> str:
    """A family name. No comma: names are written `Family, Given`, and a second comma would part them wrongly."""
    if "," in cell:
        raise BadCell("holds a comma, which parts family and given names.", "Write the name without the comma.")
    return text(80)(cell)


def given_name(cell: str) -> str:
    """Given names; `-` for a person who has none."""
    return "" if cell == "-" else text(80)(cell)


def record_number(cell: str) -> str:
    """The number the hospital knows a patient by, as a band and a label can carry it."""
    if not RECORD_NUMBER.fullmatch(cell):
        raise BadCell(
            "is no record number that a band and a label can carry.",
            "Use up to 20 letters (A to Z), digits, dots, slashes or hyphens.",
        )
    return cell


def birth_date(cell: str) -> date:
    """A day on the calendar, written in full."""
    advice = "Write it as YYYY-MM-DD, like 1951-03-09."
    if not DAY.fullmatch(cell):
        raise BadCell("is not a date in the form that cannot be misread.", advice)
    try:
        born = date.fromisoformat(cell)
    except ValueError:
        raise BadCell("is on no calendar.", advice) from None
    if born < FIRST_BIRTH:
        raise BadCell("is longer ago than anybody lives.", advice)
    return born


def moment(cell: str) -> datetime:
    """A time with its offset from UTC, as UTC."""
    advice = "Write it like 2026-11-25T05:30Z or 2026-11-25T06:30+01:00."
    if not MOMENT.fullmatch(cell):
        raise BadCell("is not a time with its offset from UTC, so it could be hours off.", advice)
    try:
        return datetime.fromisoformat(cell).astimezone(UTC)
    except (ValueError, OverflowError):
        raise BadCell("is on no calendar or clock.", advice) from None


def number(unit: str, least: float, most: float) -> Callable[[str], float]:
    """A plain number with a point, inside what a body can be."""

    def read(cell: str) -> float:
        if not NUMBER.fullmatch(cell):
            raise BadCell("is not a plain number.", f"Write {unit} with a point, like {least:g} or 61.5.")
        value = float(cell)
        if not least <= value <= most:
            raise BadCell(f"cannot be in {unit}.", f"Write a number from {least:g} to {most:g} {unit}.")
        return value

    return read


def minutes(cell: str) -> int:
    """Whole minutes, a day at most."""
    if not MINUTES.fullmatch(cell) or not 1 <= int(cell) <= A_DAY_MIN:
        raise BadCell("is not a number of minutes.", f"Write whole minutes from 1 to {A_DAY_MIN}, like 60.")
    return int(cell)


def word(*known: str) -> Callable[[str], str]:
    """One of a few words, capitals or not."""

    def read(cell: str) -> str:
        if cell.casefold() not in known:
            raise BadCell("is not one of the words used here.", f"Write one of: {', '.join(known)}.")
        return cell.casefold()

    return read


def yes_or_no(cell: str) -> bool | None:
    """Yes, no, or unknown (None: it will be asked at the bedside)."""
    said = word(*YES, *NO, *UNKNOWN)(cell)
    return None if said in UNKNOWN else said in YES


def restrictions(cell: str) -> tuple[Restriction, ...]:
    """Arms to be spared, `left:fistula;right:iv`; `none` says that there are none."""
    if cell.casefold() == NONE:
        return ()
    return tuple(dict.fromkeys(_restriction(part.strip()) for part in cell.split(";") if part.strip()))


def _restriction(part: str) -> Restriction:
    side, colon, why = part.casefold().partition(":")
    if not colon or side.strip() not in SIDES or why.strip() not in WHYS:
        raise BadCell(
            "does not say which arm to spare and why; a needle could go into it.",
            f"Write side:why, like left:fistula;right:iv. Why is one of: {', '.join(WHYS)}. Write none for none.",
        )
    return side.strip(), why.strip()


def language(cell: str) -> str:
    """A language tag."""
    if not LANGUAGE.fullmatch(cell):
        raise BadCell("is not a language tag.", "Write two letters, like fi or pt, or a tag like pt-BR.")
    return cell


def collector(cell: str) -> str:
    """Who draws. A capillary draw is another order and is not taken in here."""
    refuse_other_blood(cell)
    return word(*COLLECTORS)(cell)


def specimen(cell: str) -> str:
    """What is to be drawn: venous blood. Capillary and arterial draws are refused in plain sight."""
    refuse_other_blood(cell)
    return word(*VENOUS)(cell)


def refuse_other_blood(cell: str) -> None:
    """BadCell when a cell asks for capillary or arterial blood: neither belongs on a round of vein draws."""
    asked = cell.casefold()
    if any(said in asked for said in ("capillar", "finger", "heel", "skin puncture")):
        raise BadCell(
            "is a capillary draw, which has other rules, tubes and limits than a vein draw.",
            "Order it another way and take this row out.",
        )
    if "arter" in asked:
        raise BadCell("is an arterial draw, which is not on this round.", "Order it another way.")


COLUMNS = (
    Column("order", text(40), why="Without it the same order could be taken in twice."),
    Column("record_number", record_number, why="It says who the patient is."),
    Column("family", family_name, why="It says who the patient is."),
    Column("given", given_name, why="It says who the patient is; write - for a person with one name."),
    Column("birth_date", birth_date, why="It says who the patient is."),
    Column("sex", word(*SEXES), why="Write unknown if nobody knows."),
    Column("ward", text(20), why="Without it no round goes there."),
    Column("room", text(20), may_be_empty=True),
    Column("bed", text(20), may_be_empty=True),
    Column("test", text(20), why="Without it nobody knows which tube to draw."),
    Column("priority", word(*PRIORITIES), why="It says how long the order can wait."),
    Column("due_from", moment, why="It says when the order may be drawn."),
    Column("due_to", moment, why="It says when the order is late."),
    *(
        Column(name, read, in_every_file=False, may_be_empty=True)
        for name, read in {
            "note": text(300),
            "weight_kg": number("kg", *WEIGHT_KG),
            "height_m": number("m", *HEIGHT_M),
            "hematocrit_percent": number("percent", *HEMATOCRIT_PERCENT),
            "blood_thinner": yes_or_no,
            "latex_allergy": yes_or_no,
            "restrictions": restrictions,
            "isolation": text(60),
            "language": language,
            "collect_by": collector,
            "dose_at": moment,
            "infusion_end_at": moment,
            "specimen": specimen,
            "after_order": text(40),
            "after_at": moment,
            "after_min": minutes,
        }.items()
    ),
)

REQUIRED = tuple(column.name for column in COLUMNS if column.in_every_file)
OPTIONAL = tuple(column.name for column in COLUMNS if not column.in_every_file)
