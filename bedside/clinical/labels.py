"""Does every tube carry its own label, read back here, and were the labels compared with the band?"""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.containers import DISCARD
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, NOTE, STOP
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import TubeState, Visit


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Labels too early, wrong or missing, tube by tube; and the last comparison with the band."""
    for state in visit.tubes.values():
        if state.tube.kind == DISCARD:
            continue
        yield from _too_early(state)
        yield from _mismatch(state)
        if visit.ended is not None and state.kept and not state.reads:
            yield Mark("label-missing", STOP, state.filled)
    yield from _not_compared(visit)


def _too_early(state: TubeState) -> Iterator[Mark]:
    """A label printed before the fill is noted; one already on the tube is asked about until it is read again."""
    read_since = any(_is_after(read, state.filled) for read in state.reads)
    for event in state.early:
        if event.kind == "label_printed":
            yield Mark("label-too-early", NOTE, event)
        elif not read_since:
            yield Mark("label-too-early", ASK, event)


def _mismatch(state: TubeState) -> Iterator[Mark]:
    """The last reading decides; a wrong one before it stays as a question."""
    for read in state.reads:
        if not state.reads_right(read):
            settled = read is not state.reads[-1] or state.discarded is not None
            yield Mark("label-mismatch", ASK if settled else STOP, read)


def _not_compared(visit: Visit) -> Iterator[Mark]:
    """All labels are on, or the visit ends, and the band was not read after the last of them."""
    kept = visit.kept_tubes
    if not kept or not (visit.ended is not None or all(state.reads for state in kept)):
        return
    reads = visit.of_kind("label_read")
    last = reads[-1] if reads else None
    bands = [event for event in visit.of_kind("identity_taken") if event.data["source"] == "band"]
    if not any(_is_after(band, last) for band in bands):
        yield Mark("label-not-compared", STOP if visit.has_crossmatch else NOTE, last)


def _is_after(event: Event, other: Event | None) -> bool:
    return other is not None and event.place > other.place
