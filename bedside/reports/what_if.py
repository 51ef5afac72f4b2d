"""What another rulebook would have said of visits that are over: which findings appear, vanish or change. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bedside.clinical.case import Case
from bedside.clinical.findings import Severity
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import Rulebook

EXAMPLES = 5
"""So many visits are named for each change; the counts are of all of them."""

Found = dict[tuple[str, str | None], Severity]


@dataclass(frozen=True, slots=True, kw_only=True)
class PastVisit:
    """A visit that happened: its case as the events tell it, and when it was last touched (ISO 8601)."""

    visit: str
    at: str
    case: Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """One way in which the verdicts change. `before` is None for a finding that appears, `after` for one that goes."""

    code: str
    before: Severity | None
    after: Severity | None
    findings: int
    visits: int
    examples: tuple[PastVisit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """The whole comparison. `not_judged`: visits on which a rule broke, counted and left out."""

    visits: int
    changed: int
    not_judged: int
    shifts: tuple[Shift, ...]


def what_if(past: Iterable[PastVisit], today: Rulebook, proposed: Rulebook) -> WhatIf:
    """Judge each visit by both books, and count what is said differently. The newest visits become the examples."""
    visits = sorted(past, key=lambda one: one.at, reverse=True)
    compared = [(one, _differences(one.case, today, proposed)) for one in visits]
    told = [(one, kinds) for one, kinds in compared if kinds is not None]
    order = today.order_of_codes
    kinds = sorted(
        {kind for _, found in told for kind in found},
        key=lambda kind: (order.get(kind[0], len(order)), kind[0], _rank(kind[1]), _rank(kind[2])),
    )
    return WhatIf(
        visits=len(visits),
        changed=sum(bool(found) for _, found in told),
        not_judged=len(visits) - len(told),
        shifts=tuple(_shift(kind, told) for kind in kinds),
    )


Kind = tuple[str, Severity | None, Severity | None]


def _differences(case: Case, today: Rulebook, proposed: Rulebook) -> list[Kind] | None:
    """What is said differently, once for each finding; None where a rule broke."""
    try:
        before, after = _found(case, today), _found(case, proposed)
    except Exception:
        return None
    keys = [*before, *(key for key in after if key not in before)]
    return [(key[0], before.get(key), after.get(key)) for key in keys if before.get(key) != after.get(key)]


def _found(case: Case, book: Rulebook) -> Found:
    return {(one.code, one.event): one.severity for one in judge(case, book).findings}


def _shift(kind: Kind, told: list[tuple[PastVisit, list[Kind]]]) -> Shift:
    with_it = [(one, found.count(kind)) for one, found in told if kind in found]
    return Shift(
        code=kind[0],
        before=kind[1],
        after=kind[2],
        findings=sum(number for _, number in with_it),
        visits=len(with_it),
        examples=tuple(one for one, _ in with_it[:EXAMPLES]),
    )


def _rank(severity: Severity | None) -> int:
    return -1 if severity is None else severity.rank
