"""The real house as a process of its own: made, served, killed and served again on the same port."""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

from bedside.demo import read_seed

FILL = """
from dataclasses import replace
from pathlib import Path
import os, sys
from bedside.demo import demo_settings, fill
from bedside.records.moments import now
settings = demo_settings(Path(sys.argv[1]), "Europe/Lisbon")
fill(replace(settings, database_url=os.environ.get("DATABASE_URL")), now())
"""
"""The demo's invented ward, through the front doors; in a process of its own, because a process holds one house."""


class HouseProcess:
    """`bedside serve` over one home folder; with a certificate and its key over HTTPS."""

    def __init__(
        self,
        home: Path,
        *,
        workers: int = 1,
        certificate: tuple[Path, Path] | None = None,
        database_url: str | None = None,
    ) -> None:
        self.home = home
        self.workers = workers
        self.certificate = certificate
        self.database_url = database_url
        self.port = 0
        self.process: subprocess.Popen[str] | None = None
        self.log = home.with_name(f"{home.name}.log")
        self._told: list[str] = []

    @property
    def origin(self) -> str:
        return f"{'https' if self.certificate else 'http'}://127.0.0.1:{self.port}"

    @property
    def url(self) -> str:
        return f"{self.origin}/tablet/"

    def command(self, *words: str, typed: str = "") -> str:
        """Run one `bedside` command on this house; gives what it printed."""
        done = subprocess.run(
            [sys.executable, "-m", "bedside", *words],
            input=typed,
            capture_output=True,
            text=True,
            env=self._environment(),
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def start(self) -> None:
        """Serve; returns once the address is printed, when connections are taken already."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "bedside", "serve", *self._how()],
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                env=self._environment(),
                start_new_session=True,
            )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        address = re.search(r"https?://127\.0\.0\.1:(\d+)/", line)
        assert address, f"the server did not say where it is: {line!r}"
        self.port = int(address[1])
        self._told.append(line)

    def kill(self) -> None:
        """SIGKILL to the server and its workers: nothing is finished, nothing is said."""
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        if self.process.stdout is not None:
            self._told.append(self.process.stdout.read())
            self.process.stdout.close()
        self.process = None

    def said(self) -> bytes:
        """Everything the server wrote to its two streams; ask after killing it."""
        return "".join(self._told).encode() + self.log.read_bytes()

    def events(self) -> list[tuple[str, int]]:
        """Id and number of every event the house has stored, in order of arrival."""
        with closing(sqlite3.connect(self.home / "bedside.db")) as database:
            return database.execute("SELECT id, seq FROM event ORDER BY rowid").fetchall()

    def _how(self) -> list[str]:
        how = ["--port", str(self.port), "--workers", str(self.workers)]
        if self.certificate:
            how += ["--certificate", str(self.certificate[0]), "--key", str(self.certificate[1])]
        return how

    def _environment(self) -> dict[str, str]:
        return {**os.environ, **named(self.database_url), "BEDSIDE_HOME": str(self.home), "PYTHONUNBUFFERED": "1"}


def fill_house(home: Path, database_url: str | None = None) -> Path:
    """A new house with the demo's people, patients and orders."""
    environment = {**os.environ, **named(database_url)}
    subprocess.run([sys.executable, "-c", FILL, str(home)], check=True, capture_output=True, env=environment)
    return home


def named(database_url: str | None) -> dict[str, str]:
    """What tells a process of the house where its database is; nothing: in its folder, or as this process was told."""
    return {"DATABASE_URL": database_url} if database_url else {}


def passphrase_of(sign_in: str) -> str:
    """What an invented person types to sign in."""
    return next(person.passphrase for person in read_seed().people if person.sign_in == sign_in)
