"""How often has this person tried? After the limit a colleague takes over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from bedside.clinical.findings import STOP
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Visit


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Each needle by one person beyond the limit."""
    tried: Counter[str | None] = Counter()
    for event in visit.of_kind("needle_in"):
        tried[event.by] += 1
        if tried[event.by] > book.value("attempts_max"):
            yield Mark("attempts-used-up", STOP, event)
