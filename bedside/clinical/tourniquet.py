"""How long was the tourniquet on, did the arm rest after a long one, and was it off before the needle came out?"""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.durations import Span, between, until
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, NOTE, STOP
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Tourniquet, Visit


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """A tourniquet on for longer than the limit, on again too soon after that, or left on when the needle came out."""
    for tourniquet in visit.tourniquets:
        yield from _too_long(tourniquet, visit, book)
        yield from _rest_short(tourniquet, visit, book)
    for withdrawal in visit.withdrawals:
        if withdrawal.left_on:
            yield Mark("tourniquet-left-on", STOP, withdrawal.event)


def longest_s(visit: Visit, book: Rulebook) -> float | None:
    """The longest time a tourniquet was on, in s, one still on counted up to now; None if there was none."""
    return max((_span(tourniquet, visit, book).longer_s for tourniquet in visit.tourniquets), default=None)


def _span(tourniquet: Tourniquet, visit: Visit, book: Rulebook) -> Span:
    if tourniquet.off is not None:
        return between(tourniquet.on, tourniquet.off, book)
    step = visit.events[-1] if visit.events[-1].is_next else None
    return until(tourniquet.on, visit.now_ms, book) if step is None else between(tourniquet.on, step, book)


def _is_too_long(span: Span, book: Rulebook) -> bool:
    """Exactly the limit is allowed."""
    return span.longer_s > book.value("tourniquet_max_s")


def _too_long(tourniquet: Tourniquet, visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """A stop while it is on; once off, a question."""
    span = _span(tourniquet, visit, book)
    if tourniquet.off is not None and span.parted:
        yield Mark("clock-off", NOTE, tourniquet.off)
    if not _is_too_long(span, book):
        return
    if tourniquet.off is None:
        yield Mark("tourniquet-too-long", STOP, tourniquet.on)
    else:
        yield Mark("tourniquet-too-long", NOTE if tourniquet.off.after else ASK, tourniquet.off)


def _rest_short(tourniquet: Tourniquet, visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """After a long one the same side rests; exactly the rest is enough."""
    long_off = _last_long_off_before(tourniquet, visit, book)
    if long_off is None:
        return
    rest = between(long_off, tourniquet.on, book)
    if rest.parted:
        yield Mark("clock-off", NOTE, tourniquet.on)
    if rest.shorter_s < book.value("tourniquet_rest_s"):
        yield Mark("tourniquet-rest-short", NOTE if tourniquet.on.after else STOP, tourniquet.on)


def _last_long_off_before(tourniquet: Tourniquet, visit: Visit, book: Rulebook) -> Event | None:
    """When the last long tourniquet on this side before this one came off."""
    offs = [
        one.off
        for one in visit.tourniquets
        if one.off is not None
        and one.side == tourniquet.side
        and one.off.place < tourniquet.on.place
        and _is_too_long(_span(one, visit, book), book)
    ]
    return offs[-1] if offs else None
