"""Were the tubes filled in the right order, full enough, mixed enough, and within the limit for this patient?"""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.containers import CITRATE, DISCARD
from bedside.clinical.findings import ASK, STOP
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Needle, TubeState, Visit
from bedside.clinical.volumes import is_under_percent, ml, nanolitres


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Order of draw and discard for each needle; fill and mixing of each tube; the volume of all."""
    for needle in visit.needles:
        yield from _out_of_order(needle, book)
        yield from _discard_missing(needle)
    for state in visit.tubes.values():
        if _is_short(state, book):
            yield Mark("tube-short-fill", ASK, state.last_fill)
        for event, inversions in state.mixing_checks:
            if inversions < needed_inversions(state, book):
                yield Mark("tube-not-mixed", ASK, event)
    yield from _over_limit(visit)
    yield from _after_cancel(visit)


def volume_ml(visit: Visit) -> float:
    """All the blood drawn in this visit, in mL: every filled container, discards and culture bottles too."""
    return ml(sum(nanolitres(state.volume_ml) for state in filled_in_order(visit)))


def needed_inversions(state: TubeState, book: Rulebook) -> int:
    """How often this container is turned over after its fill."""
    return book.containers[state.tube.kind].inversions


def is_mixed(state: TubeState, book: Rulebook) -> bool:
    return state.inversions >= needed_inversions(state, book)


def filled_in_order(visit: Visit) -> list[TubeState]:
    """The containers that hold blood, in the order in which they were filled."""
    return [state for needle in visit.needles for state in needle.fills]


def _out_of_order(needle: Needle, book: Rulebook) -> Iterator[Mark]:
    """Filled after a container of a later additive group; a discard may come anywhere."""
    latest = -1
    for state in needle.fills:
        if state.tube.kind == DISCARD:
            continue
        group = book.containers[state.tube.kind].group
        if group < latest:
            yield Mark("tube-out-of-order", ASK, state.filled)
        latest = max(latest, group)


def _discard_missing(needle: Needle) -> Iterator[Mark]:
    """A winged set holds air; the first tube through it must not be citrate. A culture bottle clears it as well."""
    if needle.kind != "winged" or needle.came_in is None or not needle.fills:
        return
    first = needle.fills[0]
    if first.tube.kind == CITRATE:
        yield Mark("discard-missing", ASK, first.filled)


def _is_short(state: TubeState, book: Rulebook) -> bool:
    """Exactly the share of its nominal volume is enough."""
    if state.filled is None or state.tube.kind != CITRATE:
        return False
    return is_under_percent(state.volume_ml, state.tube.nominal_ml, book.value("citrate_fill_min_percent"))


def _over_limit(visit: Visit) -> Iterator[Mark]:
    """Every fill that takes the visit over its limit; exactly the limit is allowed."""
    if visit.max_draw_ml is None:
        return
    drawn = 0
    for state in filled_in_order(visit):
        drawn += nanolitres(state.volume_ml)
        if drawn > nanolitres(visit.max_draw_ml):
            yield Mark("volume-over-limit", STOP, state.last_fill)


def _after_cancel(visit: Visit) -> Iterator[Mark]:
    filled = filled_in_order(visit)
    if visit.cancelled and filled:
        yield Mark("drawn-after-cancel", ASK, filled[0].filled)
