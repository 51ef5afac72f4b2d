"""What can happen to the house's database while it is used, on either engine; each ends with the block it is for.

A file that may not grow by a page and a lock that somebody else holds are the real things. So are PostgreSQL's refusal
to write and the end of its process in the middle of a transaction; a full disk there is its own error, raised by a
trigger: no disk is filled.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager

import peewee
import psycopg

from bedside.records.database import BUSY_TIMEOUT_MS, WRITERS, db, on_postgres

STEPS_A_STATEMENT = 6
"""Looks of SQLite's progress handler that pass with one statement, more or less."""

DISK_IS_FULL = """CREATE OR REPLACE FUNCTION disk_is_full() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION USING MESSAGE = 'could not extend file', ERRCODE = 'disk_full'; END $$"""


@contextmanager
def disk_full() -> Iterator[None]:
    """Nothing more finds room."""
    if on_postgres():
        db.execute_sql(DISK_IS_FULL)
        db.execute_sql('CREATE TRIGGER "full" BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION disk_is_full()')
        try:
            yield
        finally:
            db.execute_sql('DROP TRIGGER "full" ON event')
        return
    pages = db.execute_sql("PRAGMA page_count").fetchone()[0]
    most = db.execute_sql("PRAGMA max_page_count").fetchone()[0]
    db.execute_sql(f"PRAGMA max_page_count = {pages}").fetchall()
    try:
        yield
    finally:
        db.execute_sql(f"PRAGMA max_page_count = {most}").fetchall()


@contextmanager
def locked_by_another() -> Iterator[None]:
    """Somebody else writes, and for longer than anybody waits."""
    if on_postgres():
        db.execute_sql("SET lock_timeout = 1")
        with psycopg.connect(db.database) as other:
            other.execute("SELECT pg_advisory_xact_lock(%s)", (WRITERS,))
            try:
                yield
            finally:
                other.rollback()
        db.execute_sql(f"SET lock_timeout = {BUSY_TIMEOUT_MS}")
        return
    db.execute_sql("PRAGMA busy_timeout = 0").fetchall()
    with closing(peewee.sqlite3.connect(db.database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        try:
            yield
        finally:
            other.execute("ROLLBACK")
            db.execute_sql(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}").fetchall()


@contextmanager
def not_to_be_written() -> Iterator[None]:
    """Reading is all it does, as for a file without write permission, or a server that only stands by."""
    refused, allowed = ("PRAGMA query_only = 1", "PRAGMA query_only = 0")
    if on_postgres():
        refused, allowed = (f"SET default_transaction_read_only = {word}" for word in ("on", "off"))
    db.execute_sql(refused)
    try:
        yield
    finally:
        db.execute_sql(allowed)


@contextmanager
def gives_up_after(looks: int) -> Iterator[None]:
    """In the middle of a transaction, once: SQLite interrupts a statement, or PostgreSQL's process comes to its end.

    looks: how often SQLite looked up before, every ten of its steps; two or three hundred times a letter.
    """
    counted = itertools.count()
    if on_postgres():
        with _ends_before(looks // STEPS_A_STATEMENT, counted):
            yield
        return
    connection = db.connection()
    connection.set_progress_handler(lambda: next(counted) == looks, 10)
    try:
        yield
    finally:
        connection.set_progress_handler(None, 0)


def drop_trigger(name: str) -> None:
    """Take away a trigger that refuses changes, as somebody with the password could."""
    table = name.rpartition("_refuses_")[0]
    db.execute_sql(f'DROP TRIGGER "{name}"' + (f' ON "{table}"' if on_postgres() else ""))


def without_references() -> None:
    """Let rows go that others point to. On PostgreSQL triggers are silent then, too."""
    db.execute_sql("SET session_replication_role = replica" if on_postgres() else "PRAGMA foreign_keys = 0")


@contextmanager
def _ends_before(statement: int, counted: Iterator[int]) -> Iterator[None]:
    """The server's process behind this thread's connection is ended before so many statements; a new one follows."""
    database, process = db.obj, db.connection().info.backend_pid
    execute, commit = database.execute_sql, database.commit

    def perhaps(work: Callable[..., object]) -> Callable[..., object]:
        def told(*given: object, **named: object) -> object:
            if next(counted) == statement:
                with psycopg.connect(database.database, autocommit=True) as other:
                    other.execute("SELECT pg_terminate_backend(%s, 5000)", (process,))
            return work(*given, **named)

        return told

    database.execute_sql, database.commit = perhaps(execute), perhaps(commit)
    try:
        yield
    finally:
        del database.execute_sql, database.commit
        database.close()
        database.connect()
