"""Rows carried between a PostgreSQL server and a SQLite file: a backup is such a file on both engines, so that one
can be put back on either.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from time import monotonic, sleep
from typing import Any

from peewee import chunked

from bedside.records.database import db
from bedside.records.dialect import booleans_of
from bedside.records.laboratory_tables import LABORATORY_TABLES
from bedside.records.migrations import steps
from bedside.records.moments import as_text
from bedside.records.tables import TABLES, Table

EVERY_TABLE: tuple[type[Table], ...] = (*TABLES, *LABORATORY_TABLES)

AT_A_TIME = 1000
"""Rows held in memory at once."""

LINGERING_S, AGAIN_S = 2.0, 0.05
"""How long a closed connection may still be listed, and how often it is asked; common practice, no source."""


def into_file(copy: Any) -> None:
    """Write the whole house of the server, as it is at one moment, into an empty SQLite file."""
    for step in steps():
        for statement in step.statements:
            copy.execute(statement)
    with _one_moment():
        for table in EVERY_TABLE:
            columns = _columns(table)
            marks = ", ".join("?" * len(columns))
            told = f'INSERT INTO "{table._meta.table_name}" ({_listed(columns)}) VALUES ({marks})'
            for some in chunked(_rows_of(table, columns), AT_A_TIME):
                copy.executemany(told, some)
    copy.commit()


def out_of_file(source: Any) -> None:
    """Put every row of a SQLite file into the server's empty tables; call inside `writing()`."""
    for table in EVERY_TABLE:
        name, columns = table._meta.table_name, _columns(table)
        said_as = [bool_or_none if column in booleans_of(name) else as_it_is for column in columns]
        rows = source.execute(f'SELECT {_listed(columns)} FROM "{name}"')
        with db.cursor() as cursor, cursor.copy(f'COPY "{name}" ({_listed(columns)}) FROM STDIN') as into:
            for row in rows:
                into.write_row([say(value) for say, value in zip(said_as, row, strict=True)])
    _count_on()


def move_aside(at: datetime) -> str | None:
    """Put the house that is on the server now into a schema of its own; gives its name, None where there was none."""
    on_server = set(db.get_tables())
    there = [name for name in (table._meta.table_name for table in EVERY_TABLE) if name in on_server]
    if not there:
        return None
    kept = "before_" + as_text(at).replace(":", "").replace(".", "").replace("-", "").lower()
    db.execute_sql(f'CREATE SCHEMA "{kept}"')
    for name in there:
        db.execute_sql(f'ALTER TABLE "{name}" SET SCHEMA "{kept}"')
    return kept


def others_connected() -> int:
    """How many other connections of Bedside this database has: servers that are running.

    One that was closed a moment ago is still listed until its process is gone, so it is asked again for a while.
    """
    until = monotonic() + LINGERING_S
    while (others := _others_now()) and monotonic() < until:
        sleep(AGAIN_S)
    return others


def _others_now() -> int:
    db.execute_sql("SELECT pg_stat_clear_snapshot()")
    asked = (
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
        "AND application_name = current_setting('application_name') AND pid <> pg_backend_pid()"
    )
    return int(db.execute_sql(asked).fetchone()[0])


def _columns(table: type[Table]) -> list[str]:
    return [field.column_name for field in table._meta.sorted_fields]


def _listed(columns: Iterable[str]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


@contextmanager
def _one_moment() -> Iterator[None]:
    """Everything read inside is of one moment, whatever is written meanwhile."""
    with db.atomic():
        db.execute_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def _rows_of(table: type[Table], columns: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    with db.connection().cursor(name="carrying") as cursor:
        cursor.itersize = AT_A_TIME
        cursor.execute(f'SELECT {_listed(columns)} FROM "{table._meta.table_name}"')
        yield from cursor


def _count_on() -> None:
    """Let the server number new rows after those that came with a number."""
    for table in EVERY_TABLE:
        if table._meta.auto_increment:
            name, key = table._meta.table_name, table._meta.primary_key.column_name
            db.execute_sql(
                f"SELECT setval(pg_get_serial_sequence('\"{name}\"', '{key}'), coalesce(max(\"{key}\"), 0) + 1, false) "
                f'FROM "{name}"'
            )


def bool_or_none(value: int | None) -> bool | None:
    """Yes or no, which SQLite keeps as a whole number."""
    return None if value is None else bool(value)


def as_it_is(value: Any) -> Any:
    """A value both engines keep alike."""
    return value
