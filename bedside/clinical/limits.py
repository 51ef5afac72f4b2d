"""The rulebook's numbers: each once, with its unit, where it comes from, since when, and how far a site may move it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

FIRST_EDITION = date(2026, 11, 25)


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far a site may move a limit: from `low` to `high`, both allowed, in the limit's unit.

    stricter: the direction in which the limit finds more. Where a standard gives the number, the bound on the looser
    side is that number: a site may ask for more than the standard, never for less. The other bounds are our own
    judgement, from memory: they keep a slip of the keyboard out of the book.
    """

    low: float
    high: float
    stricter: Literal["lower", "higher"]


def lower(low: float, high: float) -> Bounds:
    """Bounds of a limit that is stricter the lower it is."""
    return Bounds(low, high, "lower")


def higher(low: float, high: float) -> Bounds:
    """Bounds of a limit that is stricter the higher it is."""
    return Bounds(low, high, "higher")


@dataclass(frozen=True, slots=True)
class Limit:
    """One number of the rulebook.

    value: the number, in `unit`.
    source: the document and section it was read in, or "from memory", or "common practice, no source".
    since: the day it came into force.
    changeable: how far a site may move it; None where it may not.
    """

    value: float
    unit: str
    source: str
    since: date = FIRST_EDITION
    changeable: Bounds | None = None


_GP41 = "CLSI GP41-A7 2017, secondary source"

LIMITS: dict[str, Limit] = {
    # identity (practice ID-01, ID-03)
    "identity_kinds_min": Limit(2, "identifiers", "Joint Commission NPSG.01.01.01 EP 1 (NPG Goal 1 from 2026)", changeable=higher(2, 3)),
    "name_parts_shared_min": Limit(2, "parts of a name", "from memory; a site's setting", changeable=higher(2, 3)),
    # tourniquet (practice CF-04, TQ-01, TQ-04)
    "tourniquet_ready_s": Limit(45, "s", "site's choice inside the 60 s limit", changeable=lower(15, 60)),
    "tourniquet_max_s": Limit(60, "s", f"{_GP41}; EFLM-COLABIOCLI 2018", changeable=lower(30, 60)),
    "tourniquet_rest_s": Limit(120, "s", _GP41, changeable=higher(120, 600)),
    # consent; the law of the place decides, and a site's own setting follows it
    "consent_from_years": Limit(18, "years of age", "common practice, no source; the law of the place comes first", changeable=higher(12, 21)),
    # site and needle (practice ST-12, ST-13)
    "attempts_max": Limit(2, "needles by one person", "CLSI H3-A6 8.x, from memory; a site's setting", changeable=lower(1, 3)),
    "needle_angle_max_degrees": Limit(30, "degrees to the skin", "CLSI and WHO, secondary source", changeable=lower(15, 30)),
    # skin (practice SK-02, SK-05)
    "skin_dry_s": Limit(30, "s", "WHO guidelines on drawing blood 2010, 2.2.2, from memory", changeable=higher(30, 120)),
    "skin_dry_povidone_s": Limit(120, "s", "from memory; a site's setting", changeable=higher(60, 300)),
    "chlorhexidine_from_months": Limit(2, "months of age", "CLSI M47, secondary source", changeable=higher(2, 12)),
    # tubes (practice OD-19, CT-01)
    "citrate_fill_min_percent": Limit(90, "% of nominal volume", "CLSI H21 6th ed 2024, secondary source", changeable=higher(90, 100)),
    "hematocrit_max_percent": Limit(55, "%", "CLSI H21, secondary source", changeable=lower(45, 55)),
    # haemostasis (practice HM-01 to HM-04)
    "pressure_min_s": Limit(120, "s", "US Army MD0553 and RMM manual, secondary source", changeable=higher(60, 600)),
    "pressure_thinner_s": Limit(300, "s", f"{_GP41} (arterial); hospital practice on anticoagulants", changeable=higher(300, 900)),
    "look_min_s": Limit(5, "s", _GP41, changeable=higher(5, 60)),
    # after a faint (practice AE-21)
    "faint_watch_s": Limit(900, "s", "CLSI GP41-A7 4.7: 15 min after they have come round, from memory", changeable=higher(900, 3600)),
    # first aid (practice HM-06)
    "bleeding_tell_s": Limit(300, "s", "CLSI H3-A6, from memory; a site's setting", changeable=lower(120, 600)),
    # clocks (contract: Durations, clock-off)
    "clocks_part_s": Limit(2, "s", "the app's own rule: two clocks of one tablet", changeable=lower(1, 10)),
    "clock_off_s": Limit(120, "s", "the app's own rule: tablet and server", changeable=lower(30, 300)),
}  # fmt: skip
