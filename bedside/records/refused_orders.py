"""What the laboratory refused, by order: the order that was drawn, and the one made to draw it again. Read-only."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bedside.records.laboratory_tables import SpecimenRefused
from bedside.records.tables import Order


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """One refusal. reason: a code of HL7 table 0490. first, again: the two orders' numbers; again may be empty."""

    specimen: str
    reason: str
    note: str
    said_by: str
    at: str
    first: str
    again: str


def refused_behind(orders: Collection[str]) -> dict[str, Refused]:
    """The refusal behind each of these orders, whether it was drawn and refused or is to be drawn again."""
    again = Order.alias()
    mine = SpecimenRefused.order.in_(list(orders)) | SpecimenRefused.again.in_(list(orders))
    rows = (
        SpecimenRefused.select(SpecimenRefused, Order, again)
        .join(Order, on=(SpecimenRefused.order == Order.id), attr="drawn")
        .switch(SpecimenRefused)
        .join(again, "LEFT OUTER JOIN", on=(SpecimenRefused.again == again.id), attr="once_more")
        .where(mine)
        .order_by(SpecimenRefused.id)
    )
    found: dict[str, Refused] = {}
    for row in rows:
        told = _told(row)
        found[row.order_id] = told
        if row.again_id:
            found[row.again_id] = told
    return {order: told for order, told in found.items() if order in orders}


def _told(row: SpecimenRefused) -> Refused:
    once_more = getattr(row, "once_more", None)
    return Refused(
        specimen=row.specimen,
        reason=row.reason,
        note=row.note,
        said_by=row.said_by,
        at=row.at,
        first=row.drawn.number,
        again=once_more.number if once_more else "",
    )
