"""The bar code on a patient's band: two identifiers in one text, written and read here.

A code that carries only the record number is one identifier, not two (ID-03), so the band's code holds the
record number and the birth date: `RECORD|YYYY-MM-DD`, for example `40031977|1951-03-09`, drawn as Code 128.

The tablet reads it by the same rule, in JavaScript:

    const found = /^([0-9A-Za-z][0-9A-Za-z.\\/-]{0,19})(?:\\|(\\d{4}-\\d{2}-\\d{2}))?$/.exec(text.trim());
    // null: not a band, and so are ten digits alone: those are a tube's label.
    // found[1]: record number.  found[2]: birth date, or undefined: one identifier only.

A birth date that is on no calendar makes the text no band at all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

RECORD_NUMBER = re.compile(r"[0-9A-Za-z][0-9A-Za-z./-]{0,19}", re.ASCII)
"""What a record number may be: what a label, a band and a bar code can carry without loss."""

SPECIMEN = re.compile(r"\d{10}", re.ASCII)
"""Ten digits alone: somebody scanned a tube's label instead of the band."""

BAND = re.compile(rf"({RECORD_NUMBER.pattern})(?:\|(\d{{4}}-\d{{2}}-\d{{2}}))?", re.ASCII)


class NotABand(ValueError):
    """A scanned text is not what a band carries: another label, another thing, or half a scan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """What a band said. Without a birth date it is one identifier only."""

    record_number: str
    birth_date: date | None

    @property
    def identifiers(self) -> int:
        return 1 if self.birth_date is None else 2


def band_text(record_number: str, birth_date: date) -> str:
    """Write the text of a band's bar code."""
    if not RECORD_NUMBER.fullmatch(record_number):
        raise NotABand(f"{record_number!r} cannot stand on a band. Use up to 20 letters, digits, dots, / and -.")
    return f"{record_number}|{birth_date.isoformat()}"


def read_band(text: str) -> Band:
    """Read a scanned band.

    NotABand: the text has another form, or its birth date is on no calendar.
    """
    found = BAND.fullmatch(text.strip())
    if found is None or SPECIMEN.fullmatch(text.strip()):
        raise NotABand(f"{text!r} is not a band's code. Scan the band on the patient, or type what is on it.")
    record_number, born = found.groups()
    return Band(record_number=record_number, birth_date=_day(born, text) if born else None)


def _day(born: str, text: str) -> date:
    try:
        return date.fromisoformat(born)
    except ValueError:
        raise NotABand(f"{text!r} names a day that is on no calendar. Read the band by eye.") from None
