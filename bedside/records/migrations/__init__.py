"""Forward-only steps of the schema, one file each, taken in order and each whole or not at all.

To add one: a module `mNNNN_what_it_does.py` with `STEPS`, a tuple of SQL statements in SQLite's words; `dialect.py`
says them in PostgreSQL's. Change `tables.py` to match; a test compares a migrated database with a fresh one. A step
that was released is never edited.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from bedside.records.database import db, on_postgres, writing
from bedside.records.dialect import in_postgres
from bedside.records.moments import as_text
from bedside.records.tables import Migration


class DatabaseFromTheFuture(RuntimeError):
    """The database was written by a newer release, so this one leaves it alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One numbered step: its statements run in one transaction."""

    number: int
    name: str
    statements: tuple[str, ...]


def steps() -> Iterator[Step]:
    """Every step this release knows, in order."""
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda found: found.name):
        number, _, name = module.name.removeprefix("m").partition("_")
        loaded = importlib.import_module(f"{__name__}.{module.name}")
        yield Step(number=int(number), name=name, statements=loaded.STEPS)


def migrate(at: datetime) -> list[Step]:
    """Take every step not yet taken; returns these.

    Raises DatabaseFromTheFuture when the database knows steps this release does not.
    """
    known = list(steps())
    with writing():
        taken = _taken()
        strangers = taken - {step.number for step in known}
        if strangers:
            raise DatabaseFromTheFuture(
                f"The database has taken step {max(strangers)}, which this release does not know. "
                "An older release could damage what a newer one wrote. Install the newer release again."
            )
        missing = [step for step in known if step.number not in taken]
        for step in missing:
            _take(step, at)
    return missing


def _taken() -> set[int]:
    if not db.table_exists(Migration._meta.table_name):
        return set()
    return {row.number for row in Migration.select()}


def _take(step: Step, at: datetime) -> None:
    for statement in step.statements:
        for said in in_postgres(statement) if on_postgres() else (statement,):
            db.execute_sql(said)
    Migration.insert(number=step.number, name=step.name, taken_at=as_text(at)).execute()
