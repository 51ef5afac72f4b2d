"""The tube plan of a visit, and how a new plan changes the one a tablet may already carry. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from bedside.clinical.bad_input import BadInput
from bedside.clinical.directory import Directory
from bedside.clinical.findings import Severity
from bedside.clinical.fitting import fit
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import Plan, PlannedTube, plan_tubes
from bedside.clinical.volume import Age
from bedside.records.rounds_open import TubeOut, VisitOut

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """What becomes of a visit's containers: `keep` by id with new values, `new` to be made; the others go.

    needle: the kind the plan is made for.
    """

    needle: str
    keep: dict[str, Row]
    new: tuple[Row, ...]
    max_draw_ml: float | None
    findings: list[Row]


def plan_change(
    old: Iterable[TubeOut],
    pressing: Mapping[str, int],
    measures: Measures,
    *,
    needle: str,
    directory: Directory,
    book: Rulebook,
    at: datetime,
) -> PlanChange:
    """Plan these tests and keep every container that stays as it is: its label may be printed already.

    pressing: how pressing each test is, 0 the most. Over the limit only what fits is planned, and the stop stays said;
    a child whose weight nobody knows keeps the whole plan, to be drawn once there is one. A test the directory does not
    know is left out; the packet says so beside the order.
    """
    known = tuple(test for test in pressing if directory.find(test))
    request = TubeRequest(patient=measures, tests=known, now=at, needle=needle)
    try:
        plan, waits = _planned(request, pressing, directory, book)
    except BadInput as error:
        return PlanChange(needle=needle, keep={}, new=(), max_draw_ml=None, findings=[_no_plan(error)])
    keep, new = _matched(list(old), plan)
    findings = [*plan.findings, *([book.finding("volume-over-limit", Severity.STOP, None)] if waits else ())]
    return PlanChange(
        needle=needle,
        keep=keep,
        new=tuple(new),
        max_draw_ml=plan.limit_ml,
        findings=[finding.as_json() for finding in findings],
    )


def _planned(
    request: TubeRequest, pressing: Mapping[str, int], directory: Directory, book: Rulebook
) -> tuple[Plan, tuple[str, ...]]:
    """The plan to carry, and the tests that wait because they would go over the limit."""
    patient = request.patient
    if patient.weight_kg is None and patient.allowed_ml is None:
        return plan_tubes(request, directory, book), ()
    fitted = fit(request, pressing, directory, book)
    return fitted.plan, fitted.waits


def needle_for(birth_date: date, book: Rulebook, at: datetime) -> str:
    """The needle a patient is planned for: a winged set for a child, else a straight one.

    Practice ST-14: 23 gauge winged for a child, from memory. Below which age: the book's `child_below_years`.
    """
    is_child = Age.on(at.date(), birth_date).years < book.value("child_below_years")
    return "winged" if is_child else "straight"


def changes_nothing(change: PlanChange, visit: VisitOut) -> bool:
    """Report whether a plan is the one the visit has already."""
    has = {tube.id: tube.values for tube in visit.tubes}
    same_tubes = not change.new and change.keep == has
    same_needle = change.needle == visit.needle
    return (
        same_tubes
        and same_needle
        and change.max_draw_ml == visit.max_draw_ml
        and change.findings == visit.plan_findings
    )


def _matched(old: list[TubeOut], plan: Plan) -> tuple[dict[str, Row], list[Row]]:
    keep: dict[str, Row] = {}
    new: list[Row] = []
    for tube in plan.tubes:
        same = next((one for one in old if one.id not in keep and _is_same(one, tube)), None)
        if same is None:
            new.append(_row(tube))
        else:
            keep[same.id] = _row(tube)
    return keep, new


def _is_same(old: TubeOut, tube: PlannedTube) -> bool:
    return old.kind == tube.kind and set(old.tests) == set(tube.codes)


def _row(tube: PlannedTube) -> Row:
    return {
        "kind": tube.kind,
        "nominal_ml": tube.nominal_ml,
        "draw_ml": tube.draw_ml,
        "tests": list(tube.codes),
        "position": tube.position,
        "inversions": tube.container.inversions,
        "handling": list(tube.handling),
        "in_lab_by": None,
    }


def _no_plan(error: BadInput) -> Row:
    return {
        "code": "plan-missing",
        "severity": "stop",
        "says": f"No tube plan could be made: {error}.",
        "do_next": "Ask the laboratory which tubes are needed before you go in.",
        "source": "the app's own rule: no plan is better than a wrong one",
        "event": None,
    }
