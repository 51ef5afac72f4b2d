"""What has become of an order: decided from its visits, written to `OrderNow`.

Call `restate` inside the `writing()` that changed an order, a round, or what is known of a visit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from bedside.records import identity_decisions
from bedside.records.finding_reviews import discarded_after_cancel, draws_that_count
from bedside.records.projections import put_order
from bedside.records.tables import Order, Round, SentAgain, Visit, VisitNow, VisitOrder

COMES_BACK = frozenset({"away", "not_ready"})
"""Outcomes after which an order goes out again by itself; after the others a person decides first."""

BLOOD_DISCARDED = "blood_discarded"
"""Outcome of an order whose blood was discarded because it was not settled whose it was; it goes out again."""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One visit that was for the order. `row` is the visit's row of `VisitNow`, None before it began.

    is_out: it stands on a round that is still open. discarded: containers a person decided to discard, because
    identity had not been settled. in_question: containers about which that is still to be decided.
    cancelled_discarded: a person decided to discard the blood it drew for orders that had been cancelled.
    """

    visit: str
    made_at: str
    person: str | None
    is_out: bool
    row: Row | None
    discarded: frozenset[str] = frozenset()
    in_question: frozenset[str] = frozenset()
    cancelled_discarded: bool = False

    @property
    def is_over(self) -> bool:
        return self.row is not None and self.row["ended_at"] is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """How a person sent the order out again after `visit`, with which window (UTC text), for whom alone."""

    visit: str
    due_from: str
    due_to: str
    only_for: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What an order itself says: its test, who draws it, when it was cancelled or held (None: it is not).

    again: the latest time it was sent out again. counts: the containers a person said count where it was drawn twice.
    """

    id: str
    test: str
    made_at: str
    cancelled_at: str | None
    held_at: str | None
    collect_by: str = "phlebotomist"
    again: Again | None = None
    counts: frozenset[str] = frozenset()


def stand(order: Asked, attempts: Iterable[Attempt]) -> Row:
    """The order's row. Blood that was drawn counts before anything the desk decided meanwhile."""
    tried = sorted(attempts, key=lambda one: (one.made_at, one.visit))
    begun = [one for one in tried if one.row is not None]
    drawn = [(one, tube) for one in begun if one.is_over and (tube := _blood(order, one))]
    if drawn:
        attempt, tube = _which_counts(order, drawn)
        state = "in_question" if tube["tube"] in attempt.in_question else "collected"
        return _row(order, state, attempt, tube=tube)
    if begun and not begun[-1].is_over:
        return _row(order, "underway", begun[-1], tube=_blood(order, begun[-1]))
    if order.cancelled_at:
        return _row(order, "cancelled", None, at=order.cancelled_at)
    if order.held_at:
        return _row(order, "held", None, at=order.held_at)
    if tried and tried[-1].row is None and tried[-1].is_out:
        return _row(order, "out", tried[-1], at=tried[-1].made_at)
    may_go = order.collect_by == "phlebotomist"
    if begun and _was_discarded(order, begun[-1]):
        return _row(order, "pending", begun[-1], may_go_out=may_go) | {"outcome": BLOOD_DISCARDED}
    if begun:
        goes_again = _is_sent_after(order, begun[-1]) or (begun[-1].row or {})["outcome"] in COMES_BACK
        state = "pending" if goes_again else "not_collected"
        return _row(order, state, begun[-1], may_go_out=goes_again and may_go)
    return _row(order, "pending", None, at=order.made_at, may_go_out=may_go)


def _is_sent_after(order: Asked, last: Attempt) -> bool:
    """Report whether somebody sent the order out again after this very visit: a later one needs a new word."""
    return order.again is not None and order.again.visit == last.visit


def _which_counts(order: Asked, drawn: list[tuple[Attempt, Row]]) -> tuple[Attempt, Row]:
    """Of several draws the one a person said counts, else the first about whose patient nothing is in question."""
    named = (pair for pair in drawn if pair[1]["tube"] in order.counts)
    clear = (pair for pair in drawn if pair[1]["tube"] not in pair[0].in_question)
    return next(named, None) or next(clear, None) or drawn[0]


def _blood(order: Asked, attempt: Attempt) -> Row | None:
    """The first container with blood for this order that was not discarded, at the bedside or by a decision since."""
    if order.cancelled_at and attempt.cancelled_discarded:
        return None
    tubes = _filled(order.test, attempt)
    return next((one for one in tubes if not one["discarded"] and one["tube"] not in attempt.discarded), None)


def _was_discarded(order: Asked, attempt: Attempt) -> bool:
    """Report whether a person decided to discard the blood this visit drew for the order."""
    return any(one["tube"] in attempt.discarded for one in _filled(order.test, attempt))


def _filled(test: str, attempt: Attempt) -> list[Row]:
    return [one for one in (attempt.row or {}).get("tubes") or [] if one["filled_at"] and test in one["tests"]]


def restate(orders: Collection[str]) -> None:
    """Write anew what has become of these orders."""
    for row in standings(orders):
        put_order(row)


def standings(orders: Collection[str]) -> list[Row]:
    """What has become of these orders, by their id."""
    attempts, again = _attempts(orders), _sent_again(orders)
    visits = {one.visit for tried in attempts.values() for one in tried}
    counts = draws_that_count(visits)
    rows = Order.select().where(Order.id << list(orders)).order_by(Order.id)
    return [stand(_asked(row, again.get(row.id), counts), attempts.get(row.id, [])) for row in rows]


def every_order() -> list[str]:
    """The id of every order."""
    return [row.id for row in Order.select(Order.id).order_by(Order.id)]


def _attempts(orders: Collection[str]) -> dict[str, list[Attempt]]:
    links = (
        VisitOrder.select(VisitOrder, Visit, Round)
        .join(Visit)
        .join(Round, "LEFT OUTER JOIN")
        .where(VisitOrder.order << list(orders))
    )
    found = list(links)
    visits = [link.visit_id for link in found]
    now = {row.visit_id: dict(row.__data__) for row in VisitNow.select().where(VisitNow.visit << visits)}
    after_cancel = discarded_after_cancel(visits)
    discarded, waits = identity_decisions.discarded(visits), identity_decisions.in_question(visits)
    told: dict[str, list[Attempt]] = {}
    for link in found:
        visit = link.visit
        told.setdefault(link.order_id, []).append(
            Attempt(
                visit=visit.id,
                made_at=visit.made_at,
                person=visit.round.person_id if visit.round else None,
                is_out=visit.round is not None and visit.round.closed_at is None,
                row=now.get(visit.id),
                discarded=discarded,
                in_question=frozenset(tube["tube"] for tube in waits.get(visit.id, ())),
                cancelled_discarded=visit.id in after_cancel,
            )
        )
    return told


def _sent_again(orders: Collection[str]) -> dict[str, Again]:
    """The latest time each of these orders was sent out again."""
    rows = SentAgain.select().where(SentAgain.order << list(orders)).order_by(SentAgain.id)
    return {
        row.order_id: Again(visit=row.visit_id, due_from=row.due_from, due_to=row.due_to, only_for=row.only_for_id)
        for row in rows
    }


def _asked(row: Order, again: Again | None, counts: frozenset[str]) -> Asked:
    return Asked(
        id=row.id,
        test=row.test,
        made_at=row.made_at,
        cancelled_at=row.cancelled_at,
        held_at=row.held_at,
        collect_by=row.collect_by,
        again=again,
        counts=counts,
    )


def _row(
    order: Asked,
    state: str,
    attempt: Attempt | None,
    *,
    at: str | None = None,
    may_go_out: bool = False,
    tube: Row | None = None,
) -> Row:
    visit = (attempt.row if attempt else None) or {}
    again = order.again
    return {
        "order": order.id,
        "state": state,
        "may_go_out": may_go_out,
        "visit": attempt.visit if attempt else None,
        "by": (visit.get("by") or attempt.person) if attempt else None,
        "at": at or visit.get("ended_at") or visit.get("last_at"),
        "outcome": visit.get("outcome"),
        "reason": visit.get("reason") or "",
        "told": visit.get("told"),
        "tube": tube["tube"] if tube else None,
        "specimen": tube["specimen"] if tube else None,
        "collected_at": tube["filled_at"] if tube else None,
        "due_from": again.due_from if again else None,
        "due_to": again.due_to if again else None,
        "only_for": again.only_for if again and attempt and again.visit == attempt.visit else None,
    }
