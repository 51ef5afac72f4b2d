"""What sharing containers saves, against one container for each test, and what the blood lost may mean."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from bedside.clinical.directory import Directory
from bedside.clinical.order_of_draw import needs_discard
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.tube_request import TubeRequest
from bedside.clinical.tubes import Plan, plan_tubes
from bedside.clinical.volume import Fall, expected_fall


@dataclass(frozen=True, slots=True, kw_only=True)
class Saving:
    """A plan beside the one that gives each test a container of its own: containers and mL.

    drawn: what the plan's blood may take from haemoglobin and haematocrit, on average (practice BV-09).
    """

    tubes: int
    ml: float
    one_each_tubes: int
    one_each_ml: float
    drawn: Fall

    @property
    def saving_tubes(self) -> int:
        return self.one_each_tubes - self.tubes

    @property
    def saving_ml(self) -> float:
        return round(self.one_each_ml - self.ml, 3)

    def as_json(self) -> dict[str, Any]:
        return {
            "tubes": self.tubes,
            "ml": self.ml,
            "one_each_tubes": self.one_each_tubes,
            "one_each_ml": self.one_each_ml,
            "saving_tubes": self.saving_tubes,
            "saving_ml": self.saving_ml,
            "haemoglobin_fall_g_per_l": self.drawn.haemoglobin_g_per_l,
            "hematocrit_fall_points": self.drawn.hematocrit_points,
        }


def saving(plan: Plan, request: TubeRequest, directory: Directory, book: Rulebook) -> Saving:
    """What this plan of these tests saves. Without sharing, the same discard goes first where one is needed."""
    once = dict.fromkeys(place for code in request.tests if (place := directory.place(code)) is not None)
    codes = [directory.tests[place].code for place in once]
    alone = [plan_tubes(replace(request, tests=(code,), needle="straight"), directory, book) for code in codes]
    kinds = [tube.kind for one in alone for tube in one.tubes]
    discards = 1 if needs_discard(kinds, request.needle, book.containers) else 0
    one_each = sum(one.total_ml for one in alone) + discards * book.value("discard_ml")
    return Saving(
        tubes=len(plan.tubes),
        ml=plan.total_ml,
        one_each_tubes=len(kinds) + discards,
        one_each_ml=round(one_each, 3),
        drawn=expected_fall(plan.total_ml, book.limits),
    )
