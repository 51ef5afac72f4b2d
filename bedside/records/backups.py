"""Copies of the house's database: made while it is in use, verified before they count, put back
under a new house id. A backup is a SQLite file, also of a house on a PostgreSQL server, and goes back to either.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import peewee

from bedside.records import audit, carrying
from bedside.records.database import connected, database_at, db, on_postgres, use, writing
from bedside.records.engine import database_of
from bedside.records.house import make_keys, rename_house
from bedside.records.migrations import migrate
from bedside.records.moments import as_text
from bedside.records.soundness import database_fault
from bedside.records.tables import Migration
from bedside.settings import Settings

BESIDE = ("", "-wal", "-shm", "-journal")
"""A SQLite database and the files that may stand beside it."""


class BackupRefused(RuntimeError):
    """The copy cannot be made or used; the sentence says why and what to do."""


def back_up(target: Path) -> int:
    """Copy the open database into a new file and verify the copy; gives how many audit entries it holds.

    Raises BackupRefused when the file exists or the copy does not verify; then no file is left behind.
    """
    if target.exists():
        raise BackupRefused(f"{target} exists already, and a backup is never written over. Choose another name.")
    part = target.with_name(target.name + ".part")
    try:
        head = audit.head()
        with _opened(part) as copy:
            os.chmod(part, 0o600)
            if on_postgres():
                carrying.into_file(copy)
            else:
                db.connection().backup(copy)
            # One file, not three: what is beside a copied write-ahead log is easily left behind.
            copy.execute("PRAGMA journal_mode = DELETE").fetchall()
            held = _verified(copy, part, head.seq if head else 0)
        part.rename(target)
    finally:
        part.unlink(missing_ok=True)
    return held


def restore(source: Path, settings: Settings, at: datetime) -> tuple[str, str | None]:
    """Put a backup in the place of the house's database; gives the new house id and where the old one went.

    Raises BackupRefused when the file is no sound backup. The server must not be running.
    """
    if not source.is_file():
        raise BackupRefused(f"There is no file {source}. Name a backup made by: bedside backup FILE")
    settings.home.mkdir(parents=True, exist_ok=True, mode=0o700)
    make_keys(settings.home)
    fresh = settings.database.with_name("bedside.restoring")
    try:
        _copy(source, fresh)
        if settings.database_url:
            return _restore_on_server(fresh, settings, at)
        aside = _move_aside(settings.database, at)
        fresh.rename(settings.database)
    finally:
        for ending in BESIDE:
            fresh.with_name(fresh.name + ending).unlink(missing_ok=True)
    use(database_at(settings.database))
    with connected():
        migrate(at)
        with writing():
            return rename_house(at), aside and str(aside)


def _restore_on_server(fresh: Path, settings: Settings, at: datetime) -> tuple[str, str | None]:
    """Put a verified copy on the PostgreSQL server, all of it or nothing; what was there stays in a schema of its own.

    Raises BackupRefused while a server of this house has the database open.
    """
    use(database_at(fresh))
    with connected():
        migrate(at)
    use(database_of(settings))
    with connected(), _opened(fresh) as source, writing():
        others = carrying.others_connected()
        if others:
            raise BackupRefused(
                f"Bedside has this database open {others} times elsewhere, and what it writes now would be lost. "
                "Stop every server of this house, then restore again."
            )
        aside = carrying.move_aside(at)
        migrate(at)
        Migration.delete().execute()
        carrying.out_of_file(source)
        return rename_house(at), aside and f"the schema {aside}"


def _copy(source: Path, fresh: Path) -> None:
    fresh.unlink(missing_ok=True)
    try:
        with _opened(source) as old, _opened(fresh) as new:
            os.chmod(fresh, 0o600)
            old.backup(new)
            _verified(new, source, 0)
    except peewee.sqlite3.DatabaseError as error:
        raise BackupRefused(f"{source} is no backup of a house ({error}). Name another file.") from error


def _verified(copy: Any, path: Path, at_least: int) -> int:
    """How many audit entries a copy holds.

    Raises BackupRefused when the copy is damaged or holds fewer than the house did.
    """
    fault = database_fault(copy)
    if fault:
        raise BackupRefused(f"{path} cannot be trusted: {fault}. Nothing was changed.")
    held: int = copy.execute('SELECT count(*) FROM "audit"').fetchone()[0]
    if held < at_least:
        raise BackupRefused(f"{path} holds {held} audit entries; the house has {at_least}. Back up again.")
    return held


def _move_aside(database: Path, at: datetime) -> Path | None:
    """Keep the database that was there, with whatever stands beside it, under another name."""
    if not database.exists():
        return None
    stamp = as_text(at).replace(":", "").replace(".", "")
    kept = database.with_name(f"{database.name}.before-{stamp}")
    for ending in BESIDE:
        part = database.with_name(database.name + ending)
        if part.exists():
            part.rename(kept.with_name(kept.name + ending))
    return kept


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """A connection of the very module the house's own connection comes from: a backup needs both
    ends alike.
    """
    with closing(peewee.sqlite3.connect(str(path))) as connection:
        yield connection
