"""The sizes in which a laboratory hands out its containers: nominal volume, least fill, for adults or children."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from bedside.clinical.containers import CULTURES, DISCARD
from bedside.clinical.directory_cells import NUMBER_SHAPE, BadCell, Line, short_rows

COLUMNS = ("container", "nominal_ml", "min_fill_ml", "for", "source")
FOR_WHOM = ("adult", "child")
FILLED_BY_THE_BOOK = (*CULTURES, DISCARD)
"""How much these take, the rulebook says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerSize:
    """One size of a kind. min_fill_ml: less blood than that spoils its additive's share, 0: nothing is known of it.

    for_whom: `adult`, `child` (under the age of the rulebook's `child_below_years`), or empty for both.
    """

    kind: str
    nominal_ml: float
    min_fill_ml: float = 0.0
    for_whom: str = ""
    source: str = ""

    def suits(self, *, is_child: bool) -> bool:
        return self.for_whom in ("", "child" if is_child else "adult")

    def __str__(self) -> str:
        fill = f" from {self.min_fill_ml:g}" if self.min_fill_ml else ""
        whom = f" {self.for_whom}" if self.for_whom else ""
        return f"{self.nominal_ml:g}{fill}{whom}"


def read_sizes(table: Sequence[Line], kinds: Collection[str]) -> tuple[tuple[ContainerSize, ...], list[BadCell]]:
    """The sizes of a file's table, and what is wrong with it. `DirectoryRefused` for a table of another shape."""
    sizes: list[ContainerSize] = []
    problems: list[BadCell] = []
    for line, cells in short_rows(table, COLUMNS):
        wrong = [BadCell(line, column, cells[column], why) for column, why in _wrong(cells, kinds)]
        if not wrong:
            size = _size(cells)
            wrong = _again(size, sizes, line)
            sizes.append(size)
        problems += wrong
    if not problems:
        problems = list(_for_nobody(sizes, table[0][0]))
    return tuple(sizes), problems


def _size(cells: dict[str, str]) -> ContainerSize:
    return ContainerSize(
        kind=cells["container"],
        nominal_ml=float(cells["nominal_ml"]),
        min_fill_ml=float(cells["min_fill_ml"] or 0),
        for_whom=cells["for"],
        source=cells["source"],
    )


def _wrong(cells: dict[str, str], kinds: Collection[str]) -> Iterable[tuple[str, str]]:
    if cells["container"] not in kinds:
        yield "container", "no such container kind"
    if cells["container"] in FILLED_BY_THE_BOOK:
        yield "container", "how much it takes, the rulebook says"
    nominal, fill = cells["nominal_ml"], cells["min_fill_ml"]
    if not NUMBER_SHAPE.fullmatch(nominal) or not float(nominal):
        yield "nominal_ml", "millilitres above 0, with a point and at most three decimals"
    elif fill and NUMBER_SHAPE.fullmatch(fill) and float(fill) > float(nominal):
        yield "min_fill_ml", f"more than the container holds, {nominal} mL"
    if fill and not NUMBER_SHAPE.fullmatch(fill):
        yield "min_fill_ml", "millilitres with a point and at most three decimals, or empty"
    if cells["for"] not in ("", *FOR_WHOM):
        yield "for", f"one of {', '.join(FOR_WHOM)}, or empty for both"
    if not cells["source"]:
        yield "source", "this cell is needed"


def _again(size: ContainerSize, earlier: Iterable[ContainerSize], line: int) -> list[BadCell]:
    same = (one for one in earlier if (one.kind, one.nominal_ml) == (size.kind, size.nominal_ml))
    meets = any(not one.for_whom or not size.for_whom or one.for_whom == size.for_whom for one in same)
    return [BadCell(line, "nominal_ml", f"{size.nominal_ml:g}", "this size stands here already")] if meets else []


def _for_nobody(sizes: Sequence[ContainerSize], line: int) -> Iterable[BadCell]:
    """A kind that has sizes has one for everybody: else a draw would be planned with nothing in the drawer."""
    for kind in dict.fromkeys(size.kind for size in sizes):
        for is_child, whom in ((True, "a child"), (False, "an adult")):
            if not any(size.kind == kind and size.suits(is_child=is_child) for size in sizes):
                yield BadCell(line, "for", kind, f"no size of it is for {whom}; leave the cell empty for both")


def sizes_of(sizes: Iterable[ContainerSize], kind: str, *, is_child: bool) -> tuple[ContainerSize, ...]:
    """The sizes of a kind for this patient, the smallest first; none where the laboratory names none."""
    mine = (size for size in sizes if size.kind == kind and size.suits(is_child=is_child))
    return tuple(sorted(mine, key=lambda size: size.nominal_ml))
