"""A specimen the laboratory refused: kept with its reason, and its orders made anew so that somebody goes again.

The order that was drawn stays as it is. The new one says why in its note, is due in a window of its own, and reaches
the next round like any other.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import Value, fn

from bedside.clinical.refusals import REFUSALS
from bedside.records import audit, order_standing
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.identifiers import new_id
from bedside.records.laboratory_tables import SpecimenRefused
from bedside.records.moments import as_text
from bedside.records.sending_again import Window
from bedside.records.tables import Order, VisitNow, VisitOrder

LONGEST_NOTE = 300


class NotRefused(ValueError):
    """The refusal cannot be kept as told; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """What the laboratory said. reason: a code of HL7 table 0490. said_by: who, with name or desk."""

    specimen: str
    reason: str
    said_by: str
    note: str = ""


def refuse(told: Refusal, window: Window, *, by: str | None, at: datetime) -> list[str]:
    """Keep a refusal and make its orders anew, due in this window; gives the new orders' numbers.

    by: who writes it down. Raises NotRefused for a reason that is none, without a name, for a window that is over,
    for a specimen nobody filled, and for one refused already.
    """
    _refuse_if(told.reason not in REFUSALS, f"Choose why: one of {', '.join(REFUSALS)}. Nothing was kept.")
    _refuse_if(not told.said_by.strip(), "Write who at the laboratory said so. Nothing was kept.")
    _refuse_if(by is None, "Sign in first: a refusal is kept under a name. Nothing was kept.")
    _refuse_if(window.due_to <= max(window.due_from, at), "This window is over. Choose one that is still to come.")
    with writing():
        visit, tube = _drawn(told.specimen)
        orders = _orders_in(visit, tube)
        _refuse_if(_is_refused(told.specimen), f"Specimen {told.specimen} is refused already. Load the page again.")
        _refuse_if(not orders, f"No order of this house stands behind specimen {told.specimen}. Call the laboratory.")
        again = [_once_more(order, told, window, at) for order in orders]
        for order, new in zip(orders, again, strict=True):
            _keep(order, new, visit, str(tube["tube"]), told, str(by), at)
        order_standing.restate([order.id for order in again])
        a_packet_changed()
    return [order.number for order in again]


def refusals_of(specimens: Collection[str]) -> dict[str, SpecimenRefused]:
    """What was refused among these specimens, by number."""
    rows = SpecimenRefused.select().where(SpecimenRefused.specimen << list(specimens)).order_by(SpecimenRefused.id)
    return {row.specimen: row for row in rows}


def why_again(told: Refusal) -> str:
    """The note of the new order: that it is collected again, and why."""
    note = f" {told.note.strip()}" if told.note.strip() else ""
    words = f"Collect again: the laboratory refused {told.specimen}, {REFUSALS[told.reason]} ({told.reason}).{note}"
    return words[:LONGEST_NOTE]


def _drawn(specimen: str) -> tuple[str, dict[str, Any]]:
    """The visit and the container with this number, as the events tell it."""
    # Both engines have REPLACE; each has another word for "contains".
    holds = fn.REPLACE(VisitNow.tubes, Value(specimen, converter=False), Value("", converter=False)) != VisitNow.tubes
    for row in VisitNow.select(VisitNow.visit, VisitNow.tubes).where(holds):
        for tube in row.tubes:
            if tube["specimen"] == specimen and tube["filled_at"] and not tube["discarded"]:
                return row.visit_id, tube
    raise NotRefused(f"No filled container carries number {specimen!r}. Read it from the label again.")


def _orders_in(visit: str, tube: dict[str, Any]) -> list[Order]:
    links = VisitOrder.select(VisitOrder, Order).join(Order).where(VisitOrder.visit == visit).order_by(Order.number)
    return [link.order for link in links if link.order.test in tube["tests"]]


def _is_refused(specimen: str) -> bool:
    return bool(SpecimenRefused.select().where(SpecimenRefused.specimen == specimen).exists())


def _once_more(order: Order, told: Refusal, window: Window, at: datetime) -> Order:
    """The same test for the same patient; the dose of a level is past, so that the ward must say the next."""
    return Order.create(
        id=new_id("o"),
        number=_next_number(order.number),
        patient=order.patient_id,
        test=order.test,
        priority=order.priority,
        due_from=as_text(window.due_from),
        due_to=as_text(window.due_to),
        note=why_again(told),
        collect_by=order.collect_by,
        specimen=order.specimen,
        made_at=as_text(at),
    )


def _next_number(number: str) -> str:
    """`A-7` becomes `A-7/2`, then `A-7/3`."""
    first = number.rpartition("/")[0] if number.rpartition("/")[2].isdigit() and "/" in number else number
    taken = {row.number for row in Order.select(Order.number).where(Order.number.startswith(f"{first}/"))}
    return next(name for count in range(2, len(taken) + 3) if (name := f"{first}/{count}") not in taken)


def _keep(order: Order, again: Order, visit: str, tube: str, told: Refusal, by: str, at: datetime) -> None:
    SpecimenRefused.insert(
        order=order.id,
        again=again.id,
        visit=visit,
        tube=tube,
        specimen=told.specimen,
        reason=told.reason,
        note=told.note.strip(),
        said_by=told.said_by.strip(),
        by=by,
        at=as_text(at),
    ).execute()
    audit.write(who=by, action="specimen refused", object=order.id, result=f"{told.reason}, again {again.id}", at=at)


def _refuse_if(is_so: object, says: str) -> None:
    if is_so:
        raise NotRefused(says)
