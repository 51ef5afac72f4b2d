"""What the app can say about a visit: a record with a code, how serious it is, what it says and what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How serious a finding is. `stop` holds the next step, `ask` wants an answer, `note` is only said."""

    STOP = "stop"
    ASK = "ask"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the most serious."""
        return list(Severity).index(self)


STOP, ASK, NOTE = Severity.STOP, Severity.ASK, Severity.NOTE


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing the app has to say; `event` is the id of the event it is about, None for the step to come."""

    code: str
    severity: Severity
    says: str
    do_next: str
    source: str
    event: str | None = None

    def as_json(self) -> dict[str, str | None]:
        return {
            "code": self.code,
            "severity": self.severity.value,
            "says": self.says,
            "do_next": self.do_next,
            "source": self.source,
            "event": self.event,
        }
