"""How fast it is. Each module here is one subject: `figures()` yields what it measured.

`python -m tests.bench` runs them all, with names only those: `python -m tests.bench plan sync`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure. `how` says what was measured, with what, and how often, so that it can be measured again."""

    name: str
    value: float
    unit: str
    how: str

    def __str__(self) -> str:
        return f"{self.name}: {self.value:.4g} {self.unit} ({self.how})"
