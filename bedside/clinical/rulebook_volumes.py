"""The rulebook's page on volumes and timed draws: sizes stocked, limits of blood, minutes and hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from bedside.clinical.containers import CONTAINERS, Container
from bedside.clinical.limits import Limit, higher, lower

_HANDBOOK = "Garza & Becan-McBride, Phlebotomy Handbook 8th ed 2010, in a hospital's paediatric table"
_HARRIET_LANE = "Harriet Lane averages, quoted by U. Michigan IRBMED 2022"
_LAB_HANDBOOK = "a hospital's laboratory handbook, secondary source"
_NO_ADULT_LIMIT = (
    "none in the standards; a site's setting (blood banks take 7-9 % at once from the healthy, U. Michigan)"
)
_BLOOD_LOSS = "Thavendiranathan 2005, JGIM 20:520-4: inpatients of internal medicine, n = 404"
_GP44 = "CLSI GP44-A4 2010, secondary source"
_BLOOD_BANK = "AABB Standards 5.14.3.2, from memory"
_DIGOXIN = "Australian Prescriber; a hospital's laboratory handbook"
_BOTTLES = "hospital manuals after CLSI M47, secondary source"

VOLUME_LIMITS: dict[str, Limit] = {
    # how much blood (practice BV-03 to BV-06)
    "child_below_years": Limit(14, "years of age", f"{_HANDBOOK} (the table is for under 14)"),
    "adult_from_years": Limit(18, "years of age", f"{_HARRIET_LANE} (7-18 y, adult)"),
    "blood_share_percent": Limit(5, "% of blood volume in 24 h", "Howie 2011, Bull WHO 89:46-53", changeable=lower(1, 5)),
    "blood_share_8_weeks_percent": Limit(10, "% of blood volume in 8 weeks", "Howie 2011, Bull WHO 89:46-53", changeable=lower(1, 10)),
    "child_draw_share_percent": Limit(100, "% of blood volume in one draw, a child; 100: the single-draw table alone", "BV-08: a hospital chart has 2.5 %; a site's setting", changeable=lower(1, 100)),
    # an adult has no limit in the standards (practice BV-13); a site may set one
    "adult_draw_share_percent": Limit(100, "% of blood volume in one draw, an adult; 100: no limit", _NO_ADULT_LIMIT, changeable=lower(1, 100)),
    "adult_day_share_percent": Limit(100, "% of blood volume in 24 h, an adult; 100: no limit", _NO_ADULT_LIMIT, changeable=lower(1, 100)),
    "adult_8_weeks_share_percent": Limit(100, "% of blood volume in 8 weeks, an adult; 100: no limit", _NO_ADULT_LIMIT, changeable=lower(1, 100)),
    # what blood loss does to a patient on a ward (practice BV-09)
    "haemoglobin_fall_per_100_ml": Limit(7.0, "g/L for each 100 mL drawn", _BLOOD_LOSS),
    "hematocrit_fall_per_100_ml": Limit(1.9, "points for each 100 mL drawn", _BLOOD_LOSS),
    # what a container takes (practice OD-15, OD-18)
    "culture_bottle_ml": Limit(8, "mL", _BOTTLES),
    "culture_paediatric_ml": Limit(1, "mL", _BOTTLES),
    "culture_adult_from_limit_ml": Limit(16, "mL of this draw's limit", f"{_BOTTLES} (two bottles of 8 mL)"),
    "discard_ml": Limit(2, "mL", "from memory; a site's setting"),
    "supply_spare_percent": Limit(20, "% spares on a round, rounded up", "from memory; a site's setting", changeable=higher(0, 100)),
    # timed draws (practice TD-01, TD-03, TD-04, TD-07, TD-09, TD-11, ID-20)
    "trough_before_dose_max_min": Limit(90, "min before the dose", _LAB_HANDBOOK, changeable=lower(30, 90)),
    "trough_before_dose_best_min": Limit(30, "min before the dose", _LAB_HANDBOOK, changeable=lower(10, 60)),
    "peak_after_infusion_min": Limit(30, "min after the infusion's end", _LAB_HANDBOOK),
    "timed_draw_slack_min": Limit(15, "min either way", "from memory; a site's setting", changeable=lower(5, 30)),
    "serial_slack_min": Limit(10, "min either way", "from memory; a site's setting", changeable=lower(5, 20)),
    "load_slack_min": Limit(5, "min either way", "from memory; a site's setting", changeable=lower(1, 15)),
    "asap_within_min": Limit(30, "min from when it may be drawn", "from memory; a site's setting", changeable=lower(10, 60)),
    "urgent_within_min": Limit(60, "min from when it may be drawn", "from memory; a site's setting", changeable=lower(15, 120)),
    "routine_due_min": Limit(60, "min before the window ends", "from memory; a site's setting", changeable=higher(15, 120)),
    "missed_after_min": Limit(240, "min after the window ended", "from memory; a site's setting", changeable=lower(60, 720)),
    "digoxin_after_dose_min_h": Limit(6, "h after the dose", _DIGOXIN, changeable=higher(6, 12)),
    "digoxin_after_dose_max_h": Limit(24, "h after the dose", _DIGOXIN),
    "lithium_after_dose_h": Limit(12, "h after the dose", "from memory"),
    "morning_from_h": Limit(6, "o'clock, local", "CLSI GP41, from memory"),
    "morning_to_h": Limit(9, "o'clock, local", "CLSI GP41, from memory"),
    # good until (practice TD-13, TD-15, TD-26)
    "clot_at_least_min": Limit(30, "min upright before it is spun", _GP44, changeable=higher(30, 60)),
    "clot_at_most_min": Limit(60, "min upright before it is spun", _GP44, changeable=lower(45, 120)),
    "spin_within_min": Limit(120, "min from the draw", _GP44, changeable=lower(60, 120)),
    "warm_spin_within_min": Limit(60, "min from the draw, kept at 37 °C", "Nikolac 2013, Biochem Med 23:242-54, Table 4", changeable=lower(30, 60)),
    "culture_in_lab_min": Limit(120, "min from the draw", "CLSI M47, from memory; a site's setting", changeable=lower(60, 240)),
    "blood_bank_sample_days": Limit(3, "days after the day of the draw", _BLOOD_BANK, changeable=lower(1, 3)),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SingleDraw:
    """One row of the single-draw table for children: from `from_kg` to `to_kg`, at most `ml` at once."""

    from_kg: float
    to_kg: float
    ml: float
    source: str


@dataclass(frozen=True, slots=True)
class BloodPerKg:
    """Average blood volume in mL/kg from this age in months on, until the next row."""

    from_months: int
    ml_per_kg: float
    source: str


# Practice BV-06. Between two rows, and where two rows meet, the lower row counts.
SINGLE_DRAWS: tuple[SingleDraw, ...] = (
    SingleDraw(2.7, 3.6, 2.5, _HANDBOOK),
    SingleDraw(3.6, 4.5, 3.5, _HANDBOOK),
    SingleDraw(4.5, 6.8, 5.0, f"{_HANDBOOK}; this row from memory"),
    SingleDraw(7.3, 18.2, 10.0, _HANDBOOK),
    SingleDraw(18.6, 27.3, 20.0, _HANDBOOK),
    SingleDraw(27.7, 29.5, 25.0, _HANDBOOK),
    SingleDraw(30.0, 45.5, 30.0, _HANDBOOK),
)

# Practice BV-03. The row for preterm children is left out: an order does not say how early a child was born.
BLOOD_PER_KG: tuple[BloodPerKg, ...] = (
    BloodPerKg(0, 80.0, f"{_HARRIET_LANE} (term newborn)"),
    BloodPerKg(1, 75.0, f"{_HARRIET_LANE} (1-12 months, 1-3 years)"),
    BloodPerKg(48, 80.0, f"{_HARRIET_LANE} (4-6 years)"),
    BloodPerKg(84, 85.0, f"{_HARRIET_LANE} (7-18 years)"),
    BloodPerKg(216, 70.0, f"{_HARRIET_LANE} (adults)"),
)

# Beside the usual size of `containers.py`; what a site keeps on its cart, from memory; a site's setting.
OTHER_SIZES_ML: Mapping[str, tuple[float, ...]] = {
    "citrate": (1.8, 3.5, 4.5),
    "esr": (2.0,),
    "serum": (2.0, 4.0, 10.0),
    "serum-clot": (2.0, 4.0, 6.0, 10.0),
    "serum-gel": (2.5, 3.5, 8.5),
    "heparin": (2.0, 3.0, 6.0),
    "heparin-gel": (3.0, 4.5),
    "edta": (2.0, 4.0, 6.0),
    "fluoride": (4.0,),
    "acd": (8.5,),
}


@dataclass(frozen=True, slots=True)
class VolumeTables:
    """The page's tables, as a rulebook holds them."""

    single_draws: tuple[SingleDraw, ...] = SINGLE_DRAWS
    blood_per_kg: tuple[BloodPerKg, ...] = BLOOD_PER_KG
    other_sizes_ml: Mapping[str, tuple[float, ...]] = field(default_factory=lambda: OTHER_SIZES_ML)

    def sizes_of(self, container: Container) -> tuple[float, ...]:
        """The nominal volumes in which this kind is stocked, in mL, the smallest first."""
        return tuple(sorted({container.nominal_ml, *self.other_sizes_ml.get(container.kind, ())}))

    def as_json(self) -> dict[str, Any]:
        return {
            "single_draws": [asdict(row) for row in self.single_draws],
            "blood_per_kg": [asdict(row) for row in self.blood_per_kg],
            "other_sizes_ml": {kind: list(sizes) for kind, sizes in self.other_sizes_ml.items()},
        }


VOLUME_TABLES = VolumeTables()
NOMINAL_ML: dict[str, tuple[float, ...]] = {kind: VOLUME_TABLES.sizes_of(one) for kind, one in CONTAINERS.items()}
