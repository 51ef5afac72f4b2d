"""One house: its folder, its keys, its database, its one row."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from bedside.records import audit
from bedside.records.database import connected, db, on_postgres, use, writing
from bedside.records.engine import database_of
from bedside.records.identifiers import new_id
from bedside.records.migrations import migrate
from bedside.records.moments import as_text
from bedside.records.tables import Audit, House
from bedside.settings import Settings

OTHERS_MAY = 0o077

NUMBERS_LEFT_OUT = 1_000_000
"""Specimen numbers skipped after a restore: far more than a hospital hands out between two backups
(from memory).
"""


SEALING = "sealing"
"""The key file tablets seal events to, and the beginning of the names of those it took the place of
(`sealing-2026.key`): what was sealed to them must stay readable.
"""


class HouseMissing(RuntimeError):
    """There is no house in this folder yet."""


class KeyExposed(RuntimeError):
    """A key file can be read by other users of this machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """The house's secrets, each 32 random bytes in a file of its own.

    form: signs the tokens in forms.
    pepper: mixed into every password before it is hashed, so that a copy of the
    database alone verifies none.
    """

    form: bytes
    pepper: bytes


def make_house(settings: Settings, at: datetime) -> str:
    """Create folder, keys, database and house id; whatever is already there is left as it is. Gives the
    house id.
    """
    settings.home.mkdir(parents=True, exist_ok=True, mode=0o700)
    make_keys(settings.home)
    use(database_of(settings))
    with connected():
        migrate(at)
        with writing():
            return _house_id(at)


def open_house(settings: Settings, at: datetime) -> Any:
    """Put the house's database behind the tables and bring its schema up to date; leaves no connection open.

    Raises HouseMissing when `bedside init` was never run here.
    """
    database = find_house(settings)
    with connected():
        migrate(at)
        house()
    _make_key(settings.home / "keys" / f"{SEALING}.key")  # a house made before tablets sealed anything
    return database


def find_house(settings: Settings) -> Any:
    """Put the house's database behind the tables as it is; leaves no connection open.

    Raises HouseMissing when there is none.
    """
    if not settings.database_url and not settings.database.is_file():
        raise HouseMissing(
            f"There is no house in {settings.home}. Nothing can be recorded without one. Run: bedside init"
        )
    database = use(database_of(settings))
    if on_postgres():
        with connected():
            if not db.table_exists(House._meta.table_name):
                raise HouseMissing(
                    "There is no house in the database that DATABASE_URL names. Nothing can be recorded without one. "
                    "Run: bedside init"
                )
    return database


def house() -> House:
    """The house's row.

    Raises HouseMissing when the database holds none.
    """
    row = House.select().first()
    if row is None:
        raise HouseMissing("The database names no house, so tablets could not know it. Run: bedside init")
    return row


def a_packet_changed() -> int:
    """Raise the revision: something a packet carries is different now. Call inside the `writing()` that
    changed it.
    """
    House.update(revision=House.revision + 1).execute()
    return house().revision


def judged_by() -> str:
    """The hash of the rulebook that was in force when every visit was last judged."""
    return str(house().judged_by)


def note_judged_by(book: str) -> None:
    """Note under which rulebook every visit is being judged now."""
    House.update(judged_by=book).execute()


def rename_house(at: datetime) -> str:
    """Give the database a new id, after a restore: tablets then offer their recent events again.

    The row of specimen numbers leaps ahead: those handed out since the backup stand on labels this house
    forgot.
    """
    old, new = house().id, new_id("h")
    House.update(id=new, revision=House.revision + 1, next_serial=House.next_serial + NUMBERS_LEFT_OUT).execute()
    audit.write(who="house", action="restored", object=new, result=f"was {old}", at=at)
    return new


def former_ids() -> list[str]:
    """The ids this house had before it was restored, oldest first: a tablet of one of them still
    belongs here.
    """
    restored = Audit.select(Audit.result).where(Audit.who == "house", Audit.action == "restored").order_by(Audit.seq)
    return [row.result.removeprefix("was ") for row in restored]


def make_keys(home: Path) -> None:
    """Write each key that is not there yet, readable by this user alone."""
    folder = home / "keys"
    folder.mkdir(exist_ok=True, mode=0o700)
    for name in (*Keys.__slots__, SEALING):
        _make_key(folder / f"{name}.key")


def _make_key(path: Path) -> None:
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text(secrets.token_hex(32) + "\n")


def read_keys(home: Path) -> Keys:
    """Read the keys.

    Raises HouseMissing when one is not there, KeyExposed when other users of this machine could read it.
    """
    return Keys(**{name: _read_key(home / "keys" / f"{name}.key") for name in Keys.__slots__})


def read_sealing_keys(home: Path) -> tuple[bytes, ...]:
    """The secrets events are sealed to: the one in use first, then those before it.

    Raises as `read_keys`.
    """
    folder = home / "keys"
    former = sorted(folder.glob(f"{SEALING}-*.key"))
    return tuple(_read_key(path) for path in (folder / f"{SEALING}.key", *former))


def _read_key(path: Path) -> bytes:
    if not path.is_file():
        raise HouseMissing(f"The key {path.name} is missing from {path.parent}. Restore it, or run: bedside init")
    if path.stat().st_mode & OTHERS_MAY:
        raise KeyExposed(
            f"The key {path} can be read by other users of this machine, so it protects nothing. "
            f"Close it: chmod 600 {path}"
        )
    return bytes.fromhex(path.read_text().strip())


def _house_id(at: datetime) -> str:
    row = House.select().first()
    if row is not None:
        return str(row.id)
    made = new_id("h")
    House.insert(id=made, made_at=as_text(at)).execute()
    audit.write(who="house", action="made", object=made, at=at)
    return made
