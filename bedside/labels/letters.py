"""How wide a text will be, and how to shorten it, without knowing the font that will draw it.

The tablet draws labels with whatever sans-serif font it has, so widths here are upper estimates: the widest
of the common fonts for Latin letters, a generous one for every other script. Each text also carries the room
it has, so that whoever draws it can squeeze it rather than print over its neighbour. A tablet without a font
for a script shows empty boxes for the name; record number, birth date, specimen number and bar code are ASCII
and never depend on it.
"""

from __future__ import annotations

import unicodedata

ELLIPSIS = "…"

WIDTHS = {
    0.38: " ijlIJ,.:;'|!",
    0.5: "-frt()[]/",
    0.61: "csz",
    0.69: "EFLTaekovxy",
    0.73: "0123456789bdghnpquSCPYZ",
    0.78: "ABKRVX",
    0.93: "w",
    1.05: "Mm@%…",
    1.11: "W",
}
"""Widths in letter sizes, bold: the widest of three common sans-serif fonts, measured."""

EMS = {letter: ems for ems, group in WIDTHS.items() for letter in group}
OTHERWISE = 0.85

BROAD_BLOCKS = ((0x0B80, 0x0BFF), (0x0D00, 0x0DFF))
"""Tamil, Malayalam and Sinhala letters are wider than they are high."""


def width_mm(text: str, size_mm: float) -> float:
    """Estimate from above how wide a text is, in mm, at a letter size in mm."""
    return size_mm * sum(_ems(letter) for letter in unicodedata.normalize("NFC", text))


def _ems(letter: str) -> float:
    base = unicodedata.normalize("NFD", letter)[0]
    category = unicodedata.category(base)
    if category in ("Mn", "Me", "Cf"):
        return 0.0
    if any(first <= ord(base) <= last for first, last in BROAD_BLOCKS):
        return 1.15
    if unicodedata.east_asian_width(base) in "WF":
        return 1.0
    return EMS.get(base, OTHERWISE)


def size_that_fits(text: str, room_mm: float, largest: float, smallest: float) -> float:
    """Give the largest letter size in tenths of a millimetre at which a text fits; at least `smallest`."""
    sizes = [tenths / 10 for tenths in range(round(largest * 10), round(smallest * 10) - 1, -1)]
    return next((size for size in sizes if width_mm(text, size) <= room_mm), smallest)


def shorten(text: str, room_mm: float, size_mm: float) -> str:
    """Cut a text to its room and end it with …; a letter keeps its marks or goes with them."""
    if width_mm(text, size_mm) <= room_mm:
        return text
    letters = clusters(text)
    while letters and width_mm("".join(letters).rstrip() + ELLIPSIS, size_mm) > room_mm:
        letters.pop()
    return "".join(letters).rstrip() + ELLIPSIS


def clusters(text: str) -> list[str]:
    """Split a text into letters with their marks, so that no accent or vowel sign is cut off its letter."""
    found: list[str] = []
    for character in text:
        joins = unicodedata.category(character) in ("Mn", "Mc", "Me", "Cf")
        after_joiner = bool(found) and found[-1].endswith("\u200d")
        if found and (joins or after_joiner):
            found[-1] += character
        else:
            found.append(character)
    return found
