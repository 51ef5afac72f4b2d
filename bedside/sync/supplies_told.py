"""A round's supplies as its packet and its sheet tell them: what is still to be drawn, and what the store lacks."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bedside.clinical.rulebook import Rulebook
from bedside.clinical.supplies import Stopping, Supply, TubeNeeded, supplies_of
from bedside.records.packet_rows import VisitCarried
from bedside.records.stock import Counted, stock_now

Row = dict[str, Any]


def supplies_told(visits: Iterable[VisitCarried], book: Rulebook) -> list[Row]:
    """The `supplies` of a packet: of the visits not begun yet. `stock` is null where nobody counted."""
    wanted = [_stopping(one) for one in visits if one.orders and not one.has_begun]
    stock = stock_now()
    return [_told(line, stock.get(line.item)) for line in supplies_of(wanted, book)]


def _told(line: Supply, counted: Counted | None) -> Row:
    return {
        "item": line.item,
        "what": line.what,
        "count": line.count,
        "spare": line.spare,
        "take": line.take,
        "stock": counted.count if counted else None,
        "short": max(line.take - counted.count, 0) if counted else 0,
        "for": list(line.beds),
    }


def _stopping(one: VisitCarried) -> Stopping:
    return Stopping(
        bed=f"{one.patient.room} {one.patient.bed}".strip(),
        needle=one.needle,
        tubes=tuple(TubeNeeded(kind=t.kind, nominal_ml=t.nominal_ml, handling=tuple(t.handling)) for t in one.tubes),
        isolation=one.patient.isolation or "",
        needs_adjusted=any(finding["code"] == "citrate-hematocrit" for finding in one.plan_findings),
    )
