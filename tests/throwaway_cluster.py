"""A PostgreSQL server for one test session: found or installed, made, started, thrown away.

It listens on a socket in its own folder alone. Its folder lies in memory where there is room: `fsync` stays on, as the
house demands it, and costs nothing there. Whether a disk keeps what was synced is not shown here.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

from tests.debian import install_where_missing

WHERE = Path("/usr/lib/postgresql")
MEMORY = Path("/dev/shm")
ROOM = 1 << 30

OURS = "bedside-pg-"
"""A cluster's folder begins with this and the number of the process whose it is."""

QUICK = {
    "listen_addresses": "",
    "max_connections": "100",
    "shared_buffers": "64MB",
    "wal_level": "minimal",
    "max_wal_senders": "0",
    "checkpoint_timeout": "1d",
    "max_wal_size": "4GB",
    "autovacuum": "off",
    "jit": "off",
    "dynamic_shared_memory_type": "mmap",
}
"""Nothing of this weakens what a commit promises."""


class PostgresMissing(RuntimeError):
    """There is no PostgreSQL on this machine, and it cannot be installed from here."""


@dataclass(frozen=True)
class Cluster:
    """A running server. `make` gives the address of a new database on it."""

    folder: Path

    def url(self, name: str) -> str:
        return f"postgresql://{superuser()}@/{name}?host={self.folder}"

    def make(self, template: str = "template0") -> str:
        """A new database, empty or a copy of another that nobody has open."""
        name = f"house_{uuid.uuid4().hex}"
        self.run(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy")
        return self.url(name)

    def run(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)


def name_of(url: str) -> str:
    """The database an address names."""
    return url.split("/")[3].partition("?")[0]


def superuser() -> str:
    """Whose cluster it is: PostgreSQL refuses to run as root."""
    return pwd.getpwuid(_owner()).pw_name


def _owner() -> int:
    if os.geteuid() != 0:
        return os.geteuid()
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name).pw_uid
        except KeyError:
            continue
    raise PostgresMissing("PostgreSQL does not run as root, and this machine has no other user for it. Add one.")


def find_programs() -> Path:
    """The folder with `initdb` and `pg_ctl`; as root on Debian they are installed.

    Raises PostgresMissing with what to do.
    """
    install_where_missing(lambda: _programs() is not None, ("postgresql",))
    found = _programs()
    if found is None:
        raise PostgresMissing(
            "There is no PostgreSQL on this machine, and half of what is recorded would go untested. "
            "Install it (Debian: apt-get install postgresql), or put initdb on the PATH."
        )
    return found


def _programs() -> Path | None:
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    versions = sorted(WHERE.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    return versions[-1].parent if versions else None


@contextmanager
def running(*, on_disk: bool = False) -> Iterator[Cluster]:
    """A new cluster; it is stopped and its folder removed at the end.

    on_disk: where a commit costs what a disk makes of it.
    """
    programs = find_programs()
    _clear_up_after_the_dead(programs)
    in_memory = not on_disk and MEMORY.is_dir() and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM
    folder = Path(tempfile.mkdtemp(prefix=f"{OURS}{os.getpid()}-", dir=MEMORY if in_memory else None))
    os.chown(folder, _owner(), -1)
    data = folder / "data"
    try:
        _run(programs / "initdb", "-D", data, "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
        told = {**QUICK, "unix_socket_directories": str(folder)}
        options = " ".join(f"-c {name}={value or repr('')}" for name, value in told.items())
        _run(programs / "pg_ctl", "-D", data, "-l", folder / "log", "-o", options, "-w", "start")
        try:
            yield Cluster(folder)
        finally:
            _run(programs / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _clear_up_after_the_dead(programs: Path) -> None:
    """Stop and remove the clusters of test sessions that were killed before they could."""
    for folder in (*MEMORY.glob(f"{OURS}*"), *Path(tempfile.gettempdir()).glob(f"{OURS}*")):
        session = folder.name.removeprefix(OURS).partition("-")[0]
        if not session.isdecimal() or Path("/proc", session).exists():
            continue
        if (folder / "data" / "postmaster.pid").exists():
            with suppress(PostgresMissing):
                _run(programs / "pg_ctl", "-D", folder / "data", "-m", "immediate", "-w", "stop")
        shutil.rmtree(folder, ignore_errors=True)


def _run(*command: Any) -> None:
    """Run a program of PostgreSQL's as the user whose cluster it is."""
    user = _owner()
    as_user = {"user": user, "group": pwd.getpwuid(user).pw_gid, "extra_groups": []} if os.geteuid() == 0 else {}
    # What the server writes goes to its log: a pipe would stay open as long as it runs.
    done = subprocess.run(
        [str(word) for word in command],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd="/",
        check=False,
        **as_user,
    )
    if done.returncode:
        raise PostgresMissing(f"{command[0]} ended with {done.returncode}. Run it by hand to see why.")
