"""The door for orders: a file comes in whole or not at all, whoever brings it (a command or a page)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import datetime

from bedside.clinical.directory import Directory
from bedside.exchange.directory_file import built_in_directory
from bedside.exchange.orders_file import Examined, OrderRow, examine
from bedside.exchange.trouble import FileRefused, Trouble
from bedside.records import orders
from bedside.records.database import connected, writing
from bedside.records.directory_now import directory_now
from bedside.records.orders import Disagreement, TakenIn


def take_in_orders(data: bytes, *, file_name: str = "", at: datetime, by: str | None = None) -> TakenIn:
    """Take an orders file in; the same file again changes nothing.

    1. Read and check every row, without the database.
    2. In one transaction: known bytes end here; ask whether the rows agree with the house; keep all of them.

    FileUnusable: no CSV text, too large. FileRefused: every bad cell, by line and column; nothing was kept.
    """
    with connected():
        examined = examine(data, directory_in_force(), at)
        file_hash = "sha256:" + hashlib.sha256(data).hexdigest()
        with writing():
            if orders.file_is_known(file_hash):
                return TakenIn(known=len(examined.rows))
            rows = _agreeing(examined)
            return orders.take_in(
                [row.order for row in rows],
                examined.patients(),
                file_hash=file_hash,
                file_name=file_name,
                at=at,
                by=by,
            )


def check_orders(data: bytes, *, at: datetime) -> int:
    """Check an orders file against itself and the house and keep nothing; gives the number of orders in it.

    FileUnusable, FileRefused: as for taking in.
    """
    with connected():
        return len(_agreeing(examine(data, directory_in_force(), at)))


def directory_in_force() -> Directory:
    """The laboratory's directory, or the built-in one while none was loaded."""
    return directory_now() or built_in_directory()


def _agreeing(examined: Examined) -> list[OrderRow]:
    """The rows, once each. FileRefused: they contradict each other or the house."""
    found = orders.disagreements([row.order for row in examined.rows], examined.patients())
    troubles = [*examined.troubles, *_placed(found, examined.rows)]
    if troubles:
        raise FileRefused(troubles)
    return examined.orders()


def _placed(found: Iterable[Disagreement], rows: tuple[OrderRow, ...]) -> Iterable[Trouble]:
    """Name each disagreement by the first line it stands in."""
    orders_at = {row.order.number: row.line for row in reversed(rows)}
    patients_at = {row.patient.record_number: row.line for row in reversed(rows)}
    for one in found:
        line = orders_at[one.order] if one.order else patients_at[one.record_number]
        yield Trouble(line, one.column, one.value, one.says, one.do_next)
