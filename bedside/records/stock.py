"""How many of each supply the store holds, as somebody counted them last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.laboratory_tables import StockCount
from bedside.records.moments import as_text

MOST = 100_000
"""More of one thing than a ward's store holds is a slip of the keyboard (from memory)."""


class CountRefused(ValueError):
    """A count cannot be kept; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Counted:
    """The last count of an item, and when (UTC text)."""

    count: int
    at: str


def stock_now() -> dict[str, Counted]:
    """The last count of every item that was ever counted."""
    return {row.item: Counted(row.count, row.at) for row in StockCount.select().order_by(StockCount.id)}


def count_stock(counts: Mapping[str, int], *, by: str, at: datetime) -> None:
    """Keep counts under a name. Raises CountRefused for a number no store can hold."""
    wrong = [item for item, count in counts.items() if not 0 <= count <= MOST]
    if wrong:
        raise CountRefused(f"Write whole numbers from 0 to {MOST}. Look at: {', '.join(wrong)}. Nothing was kept.")
    if not counts:
        raise CountRefused("Write at least one count. Nothing was kept.")
    with writing():
        for item, count in counts.items():
            StockCount.insert(item=item, count=count, by=by, at=as_text(at)).execute()
        a_packet_changed()
        audit.write(who=by, action="stock counted", object="stock", result=f"{len(counts)} items", at=at)
