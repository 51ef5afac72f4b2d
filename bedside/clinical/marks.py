"""What a rule found, before the rulebook gives it its words."""

from __future__ import annotations

from dataclasses import dataclass

from bedside.clinical.events import Event
from bedside.clinical.findings import Severity


@dataclass(frozen=True, slots=True)
class Mark:
    """A code, how serious it is here, and the event it is about (None: the visit as ordered).

    weakened: it was a stop, and went ahead all the same; it is told in the words of the stop.
    """

    code: str
    severity: Severity
    event: Event | None = None
    weakened: bool = False

    @property
    def event_id(self) -> str | None:
        return self.event.id if self.event else None

    @property
    def tube(self) -> str | None:
        return self.event.data.get("tube") if self.event else None
