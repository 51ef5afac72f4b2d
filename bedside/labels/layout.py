"""Where everything stands on a specimen label: 50.8 × 25.4 mm, the name top left (LB-02: CLSI AUTO12-A).

All lengths are millimetres from the top left corner; the y of a text is its baseline. The time of collection
and the collector stay empty: they are filled in at the bedside, with what really happened (LB-04, from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from bedside.labels import barcode, letters
from bedside.labels.content import LabelContent

WIDTH_MM, HEIGHT_MM = 50.8, 25.4
MARGIN = 2.0
RIGHT_EDGE = WIDTH_MM - MARGIN
FULL_ROOM = RIGHT_EDGE - MARGIN
BARS_Y, BARS_HEIGHT = 10.2, 7.8
COLUMN_X = 30.8
"""Left edge of the column beside the bar code, outside its quiet zone."""

ONE_LINE_SIZES = (3.6, 2.8)
TWO_LINE_SIZES = (2.8, 2.2)
RECORD_SIZES = (2.9, 1.6)


class DoesNotFit(ValueError):
    """A label would lose an identifier that may never be shortened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text. `room` is how wide it may become; `source` names what the tablet puts there."""

    x: float
    y: float
    size: float
    room: float
    text: str
    bold: bool = False
    source: str | None = None

    def as_json(self) -> dict[str, Any]:
        told = {"x": self.x, "y": self.y, "size": self.size, "room": self.room, "bold": self.bold}
        told["text"] = self.text
        return told if self.source is None else {**told, "from": self.source}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """The bar code; x is the left edge of its first bar, the quiet zone lies before it."""

    x: float
    y: float
    height: float
    modules: str
    module: float = barcode.MODULE_MM

    def as_json(self) -> dict[str, Any]:
        place = {"x": self.x, "y": self.y, "height": self.height}
        return {**place, "module": self.module, "modules": self.modules}


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """Room left for what only the bedside knows."""

    x: float
    y: float
    size: float
    room: float

    def as_json(self) -> dict[str, Any]:
        return {"x": self.x, "y": self.y, "size": self.size, "room": self.room}


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label laid out. `name_cut` says that the name had to be shortened: compare by record number."""

    texts: tuple[Text, ...]
    bars: Bars
    time: Blank
    collector: Blank
    name_cut: bool = False

    def as_json(self) -> dict[str, Any]:
        return {
            "width_mm": WIDTH_MM,
            "height_mm": HEIGHT_MM,
            "texts": [text.as_json() for text in self.texts],
            "bars": self.bars.as_json(),
            "fill_in": {"time": self.time.as_json(), "collector": self.collector.as_json()},
            "name_cut": self.name_cut,
        }


def lay_out(content: LabelContent) -> Label:
    """Lay one label out.

    DoesNotFit: the record number would not fit even at the smallest size; it is never shortened.
    ValueError: the specimen number is not ten digits with a right check digit.
    """
    if not barcode.is_specimen_number(content.specimen):
        raise ValueError(f"{content.specimen!r} is no specimen number: ten digits, the last checks the others.")
    name = _name(content)
    return Label(
        texts=(*name, *_record(content), *_birth_date(content), *_tube(content), *_captions(content)),
        bars=_bars(content.specimen),
        time=Blank(x=9.6, y=23.6, size=2.0, room=21.4),
        collector=Blank(x=35.6, y=23.6, size=2.0, room=RIGHT_EDGE - 35.6),
        name_cut=any(line.text.endswith(letters.ELLIPSIS) for line in name),
    )


def _bars(specimen: str) -> Bars:
    left = MARGIN + barcode.QUIET_MODULES * barcode.MODULE_MM
    return Bars(x=left, y=BARS_Y, height=BARS_HEIGHT, modules=barcode.modules(specimen))


def _name(content: LabelContent) -> tuple[Text, ...]:
    """Family name in capitals, then given names: smaller first, then on two lines, and only then cut."""
    whole = ", ".join(part for part in (content.family, content.given) if part)
    largest, smallest = ONE_LINE_SIZES
    size = letters.size_that_fits(whole, FULL_ROOM, largest, smallest)
    if letters.width_mm(whole, size) <= FULL_ROOM:
        source = "name" if content.is_spare else None
        return (Text(x=MARGIN, y=4.8, size=size, room=FULL_ROOM, text=whole, bold=True, source=source),)
    if not content.given:
        return (_name_line(content.family, 4.2),)
    return (_name_line(f"{content.family},", 4.2), _name_line(content.given, 6.9))


def _name_line(words: str, y: float) -> Text:
    size = letters.size_that_fits(words, FULL_ROOM, *TWO_LINE_SIZES)
    text = letters.shorten(words, FULL_ROOM, size)
    return Text(x=MARGIN, y=y, size=size, room=FULL_ROOM, text=text, bold=True)


def _record(content: LabelContent) -> tuple[Text, ...]:
    x, room = MARGIN + 7.0, RIGHT_EDGE - MARGIN - 7.0
    size = letters.size_that_fits(content.record_number, room, *RECORD_SIZES)
    if letters.width_mm(content.record_number, size) > room:
        raise DoesNotFit(
            f"Record number {content.record_number!r} is too long for a label, which may not shorten it. "
            "Give the patient a record number of up to 20 characters."
        )
    source = "record" if content.is_spare else None
    return (
        Text(x=MARGIN, y=9.2, size=2.2, room=6.6, text="MRN"),
        Text(x=x, y=9.2, size=size, room=room, text=content.record_number, bold=True, source=source),
    )


def _birth_date(content: LabelContent) -> tuple[Text, ...]:
    shown = content.birth_date.isoformat() if content.birth_date else ""
    x = COLUMN_X + 4.8
    source = "birth_date" if content.is_spare else None
    return (
        Text(x=COLUMN_X, y=12.4, size=1.8, room=4.6, text="DOB"),
        Text(x=x, y=12.4, size=1.9, room=RIGHT_EDGE - x, text=shown, bold=True, source=source),
    )


def _tube(content: LabelContent) -> tuple[Text, ...]:
    room = RIGHT_EDGE - COLUMN_X
    size = letters.size_that_fits(content.tube, room, 3.0, 1.8)
    tube = Text(
        x=COLUMN_X,
        y=15.8,
        size=size,
        room=room,
        text=letters.shorten(content.tube, room, size),
        bold=True,
        source="tube" if content.is_spare else None,
    )
    tests = letters.shorten(", ".join(content.tests), room, 1.8)
    return (tube, Text(x=COLUMN_X, y=18.4, size=1.8, room=room, text=tests)) if tests else (tube,)


def _captions(content: LabelContent) -> tuple[Text, ...]:
    return (
        Text(x=MARGIN + 2.5, y=20.6, size=2.6, room=22.5, text=content.specimen, bold=True),
        Text(x=MARGIN, y=23.6, size=1.8, room=7.4, text="Drawn"),
        Text(x=32.0, y=23.6, size=1.8, room=3.4, text="by"),
    )
