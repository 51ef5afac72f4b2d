"""The one database of a house: how it is opened, what is demanded of it, and how it is written to.

Every connection is checked: a setting that SQLite did not take stops the app instead of weakening it quietly.
`writing()` opens every write and is the seam where the engines differ: here is SQLite, `postgres.py` is the other.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import peewee

WAL_SAFE_FROM = (3, 51, 3)
"""Before this SQLite release two connections could corrupt a write-ahead log (bug fixed 2026-03-13)."""

BUSY_TIMEOUT_MS = 5000

ALREADY_UNDONE = ("no transaction is active", "no such savepoint", "the connection is closed")
"""What is answered to a rollback of what the database has rolled back itself."""

SYNCHRONOUS_FULL = 2

WRITERS = 0x62656473
"""The advisory lock a writer on PostgreSQL holds until it has committed; the number means nothing."""

SERVER_TROUBLE = ("08", "53", "55", "57", "58", "25006", "40001", "40P01")
"""How PostgreSQL's codes begin when it is the server's fault, not the statement's: connection, resources (a full disk),
locks, a shutdown, the system, read-only, and two transactions in each other's way.
"""

FILE_TROUBLE = ("locked", "busy", "full", "readonly", "read-only", "disk i/o", "unable to open")
"""What SQLite says when it is the machine's fault, not the statement's."""

_turn = threading.Lock()
"""Held by the one thread of this process that writes; other processes are kept out by the file's own lock."""

DatabaseTrouble = peewee.DatabaseError
"""Whatever goes wrong in the database itself, for those who answer for it without knowing peewee."""

db = peewee.DatabaseProxy()
"""Stands for the house's database in the table classes; `open_house` puts the real one behind it."""


class DatabaseUnfit(RuntimeError):
    """The database does not keep the promises made to the ward, so it is not opened."""


def sqlite_release() -> tuple[int, ...]:
    """The release of SQLite in use, for example `(3, 53, 4)`."""
    release: tuple[int, ...] = peewee.sqlite3.sqlite_version_info
    return release


def journal_for(release: tuple[int, ...]) -> str:
    """Choose the journal: a write-ahead log only where it is known to be safe, else the rollback journal."""
    return "wal" if release >= WAL_SAFE_FROM else "delete"


def demanded(release: tuple[int, ...]) -> dict[str, int | str]:
    """The settings every connection must report back."""
    return {
        "journal_mode": journal_for(release),
        "synchronous": SYNCHRONOUS_FULL,
        "foreign_keys": 1,
        "busy_timeout": BUSY_TIMEOUT_MS,
        "trusted_schema": 0,
        "cell_size_check": 1,
    }


class HouseDatabase(peewee.SqliteDatabase):  # type: ignore[misc]
    """A SQLite file whose every connection is set and then asked whether it obeyed."""

    def _add_conn_hooks(self, conn: Any) -> None:
        super()._add_conn_hooks(conn)
        check(conn, demanded(sqlite_release()))


def check(connection: Any, wanted: dict[str, int | str]) -> None:
    """Set each pragma and read it back.

    Raises DatabaseUnfit naming the first setting that was not taken.
    """
    for name, value in wanted.items():
        connection.execute(f"PRAGMA {name} = {value}").fetchall()
        told = connection.execute(f"PRAGMA {name}").fetchone()[0]
        if told != value:
            raise DatabaseUnfit(
                f"The database reports {name} = {told}; {value} is needed so that nothing recorded is lost. "
                "Put it on a local disk and start again."
            )


def database_at(path: Path) -> HouseDatabase:
    """The database in this file; nothing is opened yet. Each thread gets its own connection."""
    return HouseDatabase(str(path), thread_safe=True, timeout=BUSY_TIMEOUT_MS / 1000, autoconnect=False)


def use(database: Any) -> Any:
    """Put this database behind the table classes of the whole process; the one before is let go of."""
    if db.obj is not None and on_postgres() and not db.is_closed():
        db.close()
    let_go()
    db.initialize(database)
    return database


def let_go() -> None:
    """Close the connections kept for later: none may be open when the process forks."""
    if db.obj is not None and on_postgres():
        db.close_idle()


def on_postgres() -> bool:
    """Report whether the house's database is on a PostgreSQL server."""
    return isinstance(db.obj, peewee.PostgresqlDatabase)


def could_not_save(error: DatabaseTrouble) -> bool:
    """Report whether the machine, the disk or the server is in trouble, so that the same may succeed later."""
    if not on_postgres():
        return any(word in str(error).lower() for word in FILE_TROUBLE)
    code = getattr(getattr(error, "orig", None), "sqlstate", None)
    # Without a code the server was not reached, or is gone.
    return isinstance(error, peewee.OperationalError) if code is None else code.startswith(SERVER_TROUBLE)


@contextmanager
def connected() -> Iterator[None]:
    """Have this thread's connection open inside the block; leaves one that was open already alone."""
    opened = db.connect(reuse_if_open=True)
    try:
        yield
    finally:
        if opened:
            db.close()


@contextmanager
def writing() -> Iterator[None]:
    """Open a write: everything inside is kept together or not at all.

    Takes the write lock at once (`BEGIN IMMEDIATE`): a transaction that began by reading and writes later
    fails at once without waiting when somebody else wrote in between. On PostgreSQL an advisory lock does the same.
    """
    if db.in_transaction():
        with db.savepoint():
            yield
        return
    try:
        with _alone():
            yield
    except DatabaseTrouble as error:
        first = _first_trouble(error)
        if first is error:
            raise
        raise first from None


@contextmanager
def _alone() -> Iterator[None]:
    """A transaction beside which nobody else writes."""
    if on_postgres():
        with db.atomic():
            db.execute_sql("SELECT pg_advisory_xact_lock(%s)", (WRITERS,))
            yield
    else:
        with _in_turn(), db.atomic("IMMEDIATE"):
            yield


@contextmanager
def _in_turn() -> Iterator[None]:
    """Let this process's writers wait for each other here, each woken at once when the one before is done.

    SQLite alone lets them try again by chance, ever more seldom: of fifty tablets coming home together some were
    told that the database is locked.
    """
    if not _turn.acquire(timeout=BUSY_TIMEOUT_MS / 1000):
        raise peewee.OperationalError("The database is locked: writers before this one took too long.")
    try:
        yield
    finally:
        _turn.release()


def _first_trouble(error: BaseException) -> BaseException:
    """What went wrong before the rollback did.

    A full disk makes SQLite roll back by itself; the rollback that follows then fails, and would hide the
    reason.
    """
    if not any(words in str(error) for words in ALREADY_UNDONE):
        return error
    before = error.__context__
    while before is not None and not isinstance(before, DatabaseTrouble):
        before = before.__context__
    return error if before is None else _first_trouble(before)
