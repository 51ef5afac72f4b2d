"""A server killed in the middle of a migration: the old schema or the new one, never something between."""

from __future__ import annotations

import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from bedside.records.database import connected, database_at, use
from bedside.records.migrations import migrate, steps
from bedside.records.moments import now
from bedside.records.schema import described
from bedside.records.soundness import database_fault

KILLED = """
import os, signal, sys
from pathlib import Path
from bedside.records.database import connected, database_at, db, use
from bedside.records.migrations import migrate
from bedside.records.moments import now
use(database_at(Path(sys.argv[1])))
left = iter(range(int(sys.argv[2])))
with connected():
    die = lambda: next(left, None) is None and os.kill(os.getpid(), signal.SIGKILL)
    db.connection().set_progress_handler(die, 20)
    migrate(now())
"""
"""Kills itself when the database has looked up so many times."""


@pytest.fixture
def first_release(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A database as the first release left it, with a ward in it."""
    path = tmp_path / "bedside.db"
    use(database_at(path))
    first = next(steps())
    with monkeypatch.context() as earlier, connected():
        earlier.setattr("bedside.records.migrations.steps", lambda: iter([first]))
        migrate(now())
    with closing(sqlite3.connect(path)) as database:
        database.execute("INSERT INTO ward (id, name) VALUES ('w-5', 'Ward 5')")
        database.commit()
    return path


def test_killed_at_any_point_of_a_migration_the_next_start_finishes_it(first_release: Path, tmp_path: Path) -> None:
    killed = 0
    for looks in (0, 3, 9, 20, 60):
        copy = Path(shutil.copy(first_release, tmp_path / f"killed-{looks}.db"))
        done = subprocess.run([sys.executable, "-c", KILLED, str(copy), str(looks)], check=False)
        killed += done.returncode == -signal.SIGKILL
        use(database_at(copy))
        with connected():
            migrate(now())
            assert database_fault() is None
            schema = described()
            wards = set(sqlite3.connect(copy).execute("SELECT name FROM ward"))
        assert wards == {("Ward 5",)}
        assert schema == migrated_at_once(first_release, tmp_path)

    assert killed >= 3


def migrated_at_once(first_release: Path, tmp_path: Path) -> dict[str, str]:
    copy = Path(shutil.copy(first_release, tmp_path / "at-once.db"))
    use(database_at(copy))
    with connected():
        migrate(now())
        return described()
