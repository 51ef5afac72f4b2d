"""The test directory in force: the version signed last, read once for each version."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from bedside.clinical.directory import Directory, read_directory
from bedside.records import audit
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.laboratory_tables import DirectorySigned
from bedside.records.moments import as_text
from bedside.records.tables import DirectoryVersion, Order, OrderNow

WAITING = ("pending", "out", "held")
"""States of an order that a new directory still has to serve."""


class NotSigned(ValueError):
    """A directory cannot be put in force as asked; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """A version in force: its hash, who signed it, since when (UTC text)."""

    version: str
    signer: str
    at: str
    note: str


def directory_now() -> Directory | None:
    """The directory in force, or None while none was signed."""
    row = _latest()
    return _read(row.directory.hash, row.directory.text) if row else None


def signed_now() -> Signed | None:
    """Who put the directory in force, and when; None while none was signed."""
    row = _latest()
    return Signed(version=row.directory_id, signer=row.signer, at=row.at, note=row.note) if row else None


def signatures() -> list[Signed]:
    """Every version that was ever put in force, the newest first."""
    rows = DirectorySigned.select().order_by(DirectorySigned.id.desc())
    return [Signed(version=row.directory_id, signer=row.signer, at=row.at, note=row.note) for row in rows]


def sign(text: str, *, signer: str, by: str | None, note: str = "", at: datetime) -> Directory:
    """Put a directory in force under a name; the next packet of every round is made with it.

    An earlier version may come back: its text is kept once, each signature by itself. `DirectoryRefused` names every
    bad cell; NotSigned without a name, and for the version in force already.
    """
    directory = read_directory(text)
    if not signer.strip():
        raise NotSigned("Write who signs this version. Nothing was changed.")
    with writing():
        latest = _latest()
        if latest is not None and latest.directory_id == directory.version:
            raise NotSigned("This very version is in force already. Nothing was changed.")
        if DirectoryVersion.get_or_none(DirectoryVersion.hash == directory.version) is None:
            DirectoryVersion.insert(hash=directory.version, text=text, loaded_at=as_text(at), by=by).execute()
        DirectorySigned.insert(
            directory=directory.version, signer=signer.strip(), note=note.strip(), by=by, at=as_text(at)
        ).execute()
        a_packet_changed()
        audit.write(who=by or "house", action="directory signed", object=directory.version, at=at)
    return directory


def lacking(directory: Directory) -> list[tuple[str, str]]:
    """Orders that still wait for a test this directory does not hold: their numbers and tests."""
    state = OrderNow.select(OrderNow.order).where(OrderNow.state << WAITING)
    rows = Order.select(Order.number, Order.test).where(Order.id << state).order_by(Order.number)
    return [(row.number, row.test) for row in rows if directory.find(row.test) is None]


def name_of(directory: Directory | None, code: str) -> str:
    """A test's name for people, or its code where the directory does not know it."""
    test = directory.find(code) if directory else None
    return test.name if test else code


def lacking_sentences(directory: Directory, codes: Iterable[str]) -> list[str]:
    """For each test the directory does not hold, that it is not there and what to do: it is shown, never dropped."""
    signed = signed_now()
    called = f"the laboratory's directory of {signed.at[:10]}" if signed else "the built-in directory"
    unknown = dict.fromkeys(code for code in codes if directory.find(code) is None)
    return [f"{code} is not in {called}. Ask the laboratory which tube it needs before you go in." for code in unknown]


def _latest() -> DirectorySigned | None:
    rows = DirectorySigned.select(DirectorySigned, DirectoryVersion).join(DirectoryVersion)
    return rows.order_by(DirectorySigned.id.desc()).first()


@lru_cache(maxsize=4)
def _read(version: str, text: str) -> Directory:
    return read_directory(text)
