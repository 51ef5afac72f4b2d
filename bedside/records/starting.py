"""Asked once before a house is served: is the database fit to be written to, and does this machine know the time?

What every connection demands (`database.check`) is not repeated here. The whole audit record is the work of
`bedside verify`: it takes too long at each start.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bedside.records import audit
from bedside.records.database import DatabaseUnfit, db, on_postgres
from bedside.records.moments import as_text
from bedside.records.tables import Audit

CLOCK_MAY_LAG = timedelta(minutes=10)
"""A clock set right by the network may step back a little; ten minutes is our own choice, no source."""

LAST_ENTRIES = 1000
"""Of the audit record, checked at each start."""


def refuse_unfit(at: datetime) -> None:
    """Raises DatabaseUnfit with the first thing that is wrong: a damaged file, a changed record, a clock set back."""
    fault = file_fault() or chain_fault() or clock_fault(at)
    if fault:
        raise DatabaseUnfit(fault)


def file_fault() -> str | None:
    """What SQLite's quick check finds. A PostgreSQL server looks after its own files."""
    if on_postgres():
        return None
    told = db.execute_sql("PRAGMA quick_check(1)").fetchone()[0]
    if told == "ok":
        return None
    return f"The database file is damaged ({told}), so what is recorded could be lost. Restore a backup."


def chain_fault() -> str | None:
    """The newest part of the audit record must hold together."""
    newest = audit.newest(LAST_ENTRIES)
    fault = audit.first_fault(newest, after=newest[0].seq - 1, previous=newest[0].previous) if newest else None
    return fault and f"The house's own record was tampered with: {fault}. Run bedside verify, and restore a backup."


def clock_fault(at: datetime) -> str | None:
    """Nothing may have happened after now."""
    last = Audit.select().order_by(Audit.seq.desc()).first()
    if last is None or as_text(at + CLOCK_MAY_LAG) >= last.at:
        return None
    return (
        f"This machine's clock says {as_text(at)}, but the house has a record of {last.at}: times of draws would be "
        "wrong. Set the clock and start again."
    )
