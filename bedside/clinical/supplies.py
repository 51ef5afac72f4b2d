"""What a round needs on its cart: containers with spares, needles, and what cold, warm and isolated draws ask for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from bedside.clinical.containers import CULTURES, Container
from bedside.clinical.rulebook import Rulebook


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeNeeded:
    """One container of a plan: its kind, its size in mL, and its handling words."""

    kind: str
    nominal_ml: float | None
    handling: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopping:
    """What one visit needs. bed: how the sheet calls it. needs_adjusted: a citrate tube the laboratory prepares."""

    bed: str
    needle: str
    tubes: tuple[TubeNeeded, ...]
    isolation: str = ""
    needs_adjusted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """One line of the list. item: its name in the stock; spare: how many beside the count; beds: for whom."""

    item: str
    what: str
    count: int
    spare: int
    beds: tuple[str, ...]

    @property
    def take(self) -> int:
        return self.count + self.spare


NEEDLE_WORDS: Mapping[str, str] = {
    "straight": "straight needles with guard",
    "winged": "winged sets",
    "syringe": "syringes with needle",
}


def supplies_of(visits: Iterable[Stopping], book: Rulebook) -> tuple[Supply, ...]:
    """Everything these visits need, containers in the order of draw first; what nobody needs is left out."""
    found: dict[str, tuple[str, list[str]]] = {}
    for visit in visits:
        for item, what in _needed(visit, book.containers):
            found.setdefault(item, (what, []))[1].append(visit.bed)
    lines = [_line(item, what, beds, book) for item, (what, beds) in found.items()]
    return tuple(sorted(lines, key=lambda line: _place(line.item, book)))


def _needed(visit: Stopping, containers: Mapping[str, Container]) -> Iterator[tuple[str, str]]:
    for tube in visit.tubes:
        container = containers[tube.kind]
        size = container.nominal_ml if tube.nominal_ml is None else tube.nominal_ml
        yield f"tube:{tube.kind}:{size:g}", f"{container.name}, {size:g} mL"
    if not visit.tubes:
        return
    yield f"needle:{visit.needle}", NEEDLE_WORDS.get(visit.needle, visit.needle)
    words = {word for tube in visit.tubes for word in tube.handling}
    yield from ((f"care:{item}", what) for item, what in _cares(visit, words))


def _cares(visit: Stopping, words: set[str]) -> Iterator[tuple[str, str]]:
    yield "dressing", "gauze, tape, skin wipe"
    yield "bag", "transport bags"
    if any(tube.kind in CULTURES for tube in visit.tubes):
        yield "culture-kit", "culture kit: chlorhexidine, caps, labels"
    if "ice" in words:
        yield "ice", "cups of ice slurry"
    if "protect-from-light" in words:
        yield "foil", "foil or dark bags"
    if "37C" in words:
        yield "warm", "warm packs at 37 °C, warmed tubes"
    if visit.isolation:
        yield f"isolation:{visit.isolation}", f"isolation gear: {visit.isolation}"
    if visit.needs_adjusted:
        yield "adjusted-citrate", "citrate tube adjusted by the laboratory: fetch it before you go"


def _line(item: str, what: str, beds: list[str], book: Rulebook) -> Supply:
    """A spare for every so many of what can fail in the hand; an adjusted tube is one patient's own."""
    share = book.value("supply_spare_percent") / 100
    spare = 0 if item == "care:adjusted-citrate" else math.ceil(round(len(beds) * share, 9))
    return Supply(item=item, what=what, count=len(beds), spare=spare, beds=tuple(dict.fromkeys(beds)))


def _place(item: str, book: Rulebook) -> tuple[int, int, str]:
    sort, _, rest = item.partition(":")
    kinds = list(book.containers)
    kind = rest.partition(":")[0]
    return (("tube", "needle", "care").index(sort), kinds.index(kind) if sort == "tube" else 0, item)
