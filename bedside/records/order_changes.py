"""What a charge nurse may change about an order: cancel, hold, let go on, flag. Each change is an act
with a name.

None of them erases what a tablet brings home: blood drawn for a cancelled order meets it as a finding.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from bedside.records import audit, order_standing
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.moments import as_text
from bedside.records.tables import Order, OrderNow


class OrderChangeRefused(ValueError):
    """The order cannot be changed as asked; the sentence says why and what to do."""


def cancel(order: str, reason: str, *, by: str, at: datetime) -> None:
    """Cancel an order for good.

    Raises OrderChangeRefused without a reason, for an unknown order, for one cancelled or collected already.
    """
    _needs(reason, "cancelling")
    with writing():
        row = _order(order)
        _refuse_if(row.cancelled_at, "This order is cancelled already. Load the page again.")
        _refuse_if(_state(order) == "collected", "The blood for this order is drawn. Call the laboratory instead.")
        _change(
            order, "order cancelled", by, at, cancelled_at=as_text(at), cancelled_by=by, cancel_reason=reason.strip()
        )


def hold(order: str, reason: str, *, by: str, at: datetime) -> None:
    """Hold an order back: no round takes it until it is released.

    Raises OrderChangeRefused without a reason, for an unknown order, for one held, cancelled or collected.
    """
    _needs(reason, "holding")
    with writing():
        row = _order(order)
        _refuse_if(row.cancelled_at, "This order is cancelled. Load the page again.")
        _refuse_if(row.held_at, "This order is held already. Load the page again.")
        _refuse_if(_state(order) == "collected", "The blood for this order is drawn, so there is nothing to hold.")
        _change(order, "order held", by, at, held_at=as_text(at), held_by=by, hold_reason=reason.strip())


def release(order: str, *, by: str, at: datetime) -> None:
    """Let a held order go on.

    Raises OrderChangeRefused for an unknown order and for one that is not held.
    """
    with writing():
        row = _order(order)
        _refuse_if(not row.held_at, "This order is not held. Load the page again.")
        _change(order, "order released", by, at, held_at=None, held_by=None, hold_reason="")


def flag(order: str, note: str, *, by: str, at: datetime) -> None:
    """Give the phlebotomist a note to read before the door; a new note replaces the old one.

    Raises OrderChangeRefused without a note and for an unknown order.
    """
    _needs(note, "flagging")
    with writing():
        _order(order)
        _change(order, "order flagged", by, at, flagged_at=as_text(at), flagged_by=by, flag_note=note.strip())


def unflag(order: str, *, by: str, at: datetime) -> None:
    """Take the note away.

    Raises OrderChangeRefused for an unknown order.
    """
    with writing():
        _order(order)
        _change(order, "order unflagged", by, at, flagged_at=None, flagged_by=None, flag_note="")


def _change(order: str, action: str, by: str, at: datetime, **values: Any) -> None:
    Order.update(values).where(Order.id == order).execute()
    order_standing.restate([order])
    a_packet_changed()
    audit.write(who=by, action=action, object=order, at=at)


def _order(order: str) -> Order:
    row = Order.get_or_none(Order.id == order)
    if row is None:
        raise OrderChangeRefused("There is no such order. Load the page again and choose it there.")
    return row


def _state(order: str) -> str | None:
    row = OrderNow.get_or_none(OrderNow.order == order)
    return row.state if row else None


def _needs(text: str, act: str) -> None:
    _refuse_if(not text.strip(), f"{act.capitalize()} needs a reason: whoever reads it next must understand why.")


def _refuse_if(is_so: object, says: str) -> None:
    if is_so:
        raise OrderChangeRefused(says)
