"""What an order and a patient are when they arrive: plain values, known to no table yet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

Restriction = tuple[str, str]
"""A side and why it must be spared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientFacts:
    """What an orders file says about a patient; None where it says nothing.

    restrictions: None says nothing, an empty tuple says that there are none; isolation likewise with "".
    """

    record_number: str
    family: str
    given: str
    birth_date: date
    sex: str
    ward: str
    room: str = ""
    bed: str = ""
    weight_kg: float | None = None
    height_m: float | None = None
    hematocrit_percent: float | None = None
    blood_thinner: bool | None = None
    latex_allergy: bool | None = None
    restrictions: tuple[Restriction, ...] | None = None
    isolation: str | None = None
    language: str | None = None

    @property
    def name(self) -> str:
        return f"{self.family}, {self.given}" if self.given else self.family


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderContent:
    """What makes an order this order: the same number with another content is another order, and refused.

    dose_at: the next dose for a trough, the last one for a level after the dose. after_min: minutes after the draw of
    the order `after_order` (a number), or after the moment `after_at` (the first sip of a glucose load).
    """

    number: str
    record_number: str
    test: str
    priority: str
    due_from: datetime
    due_to: datetime
    note: str = ""
    collect_by: str = "phlebotomist"
    dose_at: datetime | None = None
    infusion_end_at: datetime | None = None
    specimen: str | None = None
    after_order: str = ""
    after_at: datetime | None = None
    after_min: int | None = None
