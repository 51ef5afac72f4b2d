"""Sending an order out again after a visit that ended without its blood: a person's word, kept for good."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit, order_standing
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.moments import as_text
from bedside.records.order_changes import OrderChangeRefused
from bedside.records.tables import OrderNow, Person, SentAgain

COLLECTOR = "phlebotomist"
"""The role whose rounds take orders out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """From when until when the draw is to happen."""

    due_from: datetime
    due_to: datetime


def send_again(
    orders: Collection[str], window: Window, only_for: str | None, reason: str, *, by: str, at: datetime
) -> None:
    """Make these orders pending again, so that the next round takes them: all of them or none.

    only_for: the one person whose round takes them; None: whoever goes next.

    Raises OrderChangeRefused for a window that is over or ends before it begins, for a person who draws no blood,
    and for an order that did not come back from a visit.
    """
    _refuse_if(window.due_to <= window.due_from, "The window ends before it begins. Nothing was sent out again.")
    _refuse_if(window.due_to <= at, "This window is over already. Choose one that is still to come.")
    with writing():
        _refuse_if(
            only_for is not None and only_for not in {person.id for person in collectors()},
            "Nobody of this name takes out rounds. Choose somebody of the list.",
        )
        for order in sorted(orders):
            _keep(order, window, only_for, reason.strip(), by, at)
        order_standing.restate(orders)
        a_packet_changed()


def collectors() -> list[Person]:
    """Everybody who may take out a round now, by name."""
    is_one = (Person.role == COLLECTOR) & Person.disabled_at.is_null()
    return list(Person.select().where(is_one).order_by(Person.name, Person.id))


def _keep(order: str, window: Window, only_for: str | None, reason: str, by: str, at: datetime) -> None:
    became = OrderNow.get_or_none(OrderNow.order == order)
    came_back = became is not None and became.visit_id is not None and became.state in ("not_collected", "pending")
    _refuse_if(not came_back, "This order did not come back from a visit, or is settled by now. Load the page again.")
    SentAgain.create(
        order=order,
        visit=became.visit_id,
        due_from=as_text(window.due_from),
        due_to=as_text(window.due_to),
        only_for=only_for,
        reason=reason,
        by=by,
        at=as_text(at),
    )
    audit.write(who=by, action="order sent out again", object=order, at=at)


def _refuse_if(is_so: object, says: str) -> None:
    if is_so:
        raise OrderChangeRefused(says)
