"""Which tests fit under a patient's limit and which have to wait: the most pressing first, none of them dropped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from bedside.clinical.directory import Directory
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.tube_request import TubeRequest
from bedside.clinical.tubes import Plan, plan_tubes

WHO_MAY_ALLOW = "the prescriber, or a physician or nurse in charge, with a reason"
"""Who may let a draw go over the limit (common practice, no source; the law and policy of the place come first)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """The plan of the tests that fit, and the codes that wait, as they were asked for."""

    plan: Plan
    fits: tuple[str, ...]
    waits: tuple[str, ...]


def fit(request: TubeRequest, pressing: Mapping[str, int], directory: Directory, book: Rulebook) -> Fitted:
    """Take the tests by priority; each that still fits under the limit is drawn, each that does not waits.

    pressing: 0 for the most pressing, by code; a code left out is the least pressing. Among equals the request's order
    counts. A test that goes along in a container drawn anyway fits. Errors as for `plan_tubes`.
    """
    whole = plan_tubes(request, directory, book)
    if whole.limit_ml is None or whole.total_ml <= whole.limit_ml:
        return Fitted(plan=whole, fits=request.tests, waits=())
    last = max(pressing.values(), default=0) + 1
    asked = sorted(dict.fromkeys(request.tests), key=lambda code: pressing.get(code, last))
    chosen = _fitting(request, asked, directory, book)
    return Fitted(
        plan=plan_tubes(replace(request, tests=chosen), directory, book),
        fits=chosen,
        waits=tuple(code for code in request.tests if code not in chosen),
    )


def _fitting(request: TubeRequest, asked: Sequence[str], directory: Directory, book: Rulebook) -> tuple[str, ...]:
    """One test after the other; again from the front while that takes another along.

    A culture bottle makes the discard before a citrate tube needless, so that a later test can make an earlier one fit.
    """
    chosen: list[str] = []
    left = list(asked)
    while True:
        for code in left:
            plan = plan_tubes(replace(request, tests=(*chosen, code)), directory, book)
            if plan.limit_ml is None or plan.total_ml <= plan.limit_ml:
                chosen.append(code)
        still = [code for code in left if code not in chosen]
        if still == left:
            return tuple(code for code in request.tests if code in chosen)
        left = still
