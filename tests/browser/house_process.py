"""The real house as a process of its own: made, served, killed and served again on the same port."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

PASSWORD = "five tubes before breakfast"

PEOPLE = (
    ("ines", "phlebotomist", "Ines Baptista"),
    ("charles", "charge_nurse", "Charles Obuya"),
    ("sol", "safety_officer", "Sol Lindqvist"),
    ("kay", "keeper", "Kay Moreno"),
)
"""One person a role: sign-in name, role, full name. All have the same PASSWORD."""


class HouseProcess:
    """`bedside serve` over one home folder."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.port = 0
        self.process: subprocess.Popen[str] | None = None

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

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
        self.process = subprocess.Popen(
            [sys.executable, "-m", "bedside", "serve", "--port", str(self.port)],
            stdout=subprocess.PIPE,
            text=True,
            env=self._environment(),
            start_new_session=True,
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        assert address, f"the server did not say where it is: {line!r}"
        self.port = int(address[1])

    def kill(self) -> None:
        """SIGKILL to the server and its workers: nothing is finished, nothing is said."""
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()
        self.process = None

    def _environment(self) -> dict[str, str]:
        return {**os.environ, "BEDSIDE_HOME": str(self.home), "PYTHONUNBUFFERED": "1"}


def make_house(home: Path) -> HouseProcess:
    """A new house with one person a role."""
    house = HouseProcess(home)
    house.command("init")
    for sign_in, role, name in PEOPLE:
        house.command("people", "add", sign_in, "--role", role, "--name", name, typed=PASSWORD + "\n")
    return house
