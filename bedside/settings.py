"""Where things lie on this machine: read from the environment once, at the start."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """The folder of `static`, `templates` or `seed_demo`: beside the package in a wheel, one up in a
    checkout.
    """
    for place in (PACKAGE / name, PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"The folder {name!r} is missing. Install Bedside again: it carries that folder.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """One house's settings.

    home: the folder that holds the database and the keys.
    zone: the IANA time zone the ward's clocks show.
    site: the name printed at the head of pages and sheets.
    password_passes, password_memory_kib: what one guess at a password costs (argon2id); lowered by tests
    alone.
    database_url: a PostgreSQL server and a database on it; none: a SQLite file in `home`. It may hold a password, so
    it is never shown.
    """

    home: Path
    zone: str = "UTC"
    site: str = "Bedside"
    demo: bool = False
    password_passes: int = 3
    password_memory_kib: int = 65536
    database_url: str | None = field(default=None, repr=False)

    @property
    def database(self) -> Path:
        return self.home / "bedside.db"

    @classmethod
    def from_environment(cls) -> Settings:
        return cls(
            home=Path(os.environ.get("BEDSIDE_HOME", "bedside-data")).resolve(),
            zone=os.environ.get("BEDSIDE_ZONE", "UTC"),
            site=os.environ.get("BEDSIDE_SITE", "Bedside"),
            database_url=os.environ.get("DATABASE_URL") or None,
        )
