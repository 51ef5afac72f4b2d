"""The house's own record of who did what: each entry carries the hash of the one before.

Ids only: no name, no birth date, no free text about a patient. A chain in the same database proves nothing
against whoever can rewrite all of it; heads kept elsewhere (on tablets, on paper) are what makes it bite.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from bedside.records.moments import as_text
from bedside.records.tables import Audit

BEFORE_THE_FIRST = "0" * 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the record; `hash` covers everything else in it and the hash before."""

    seq: int
    at: str
    who: str
    action: str
    object: str
    result: str
    previous: str
    hash: str


def write(*, who: str, action: str, object: str, result: str = "done", at: datetime) -> None:
    """Add an entry; call inside the `writing()` of the act itself, so that both are kept or neither."""
    last = head()
    seq, previous = (last.seq + 1, last.hash) if last else (1, BEFORE_THE_FIRST)
    entry = {"seq": seq, "at": as_text(at), "who": who, "action": action, "object": object, "result": result}
    Audit.insert({**entry, "previous": previous, "hash": chained(previous, entry)}).execute()


def head() -> Entry | None:
    """The newest entry, or None in a house where nothing was done yet."""
    row = Audit.select().order_by(Audit.seq.desc()).first()
    return _entry(row) if row else None


def hash_at(seq: int) -> str | None:
    """The hash of one entry, to compare with a head kept elsewhere."""
    row = Audit.get_or_none(Audit.seq == seq)
    return row.hash if row else None


def entries() -> Iterable[Entry]:
    """The whole record, oldest first, without holding it in memory."""
    return (_entry(row) for row in Audit.select().order_by(Audit.seq).iterator())


def chained(previous: str, entry: dict[str, object]) -> str:
    """SHA-256 over a version byte, the previous hash and the entry as canonical JSON."""
    canonical = json.dumps(entry, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(b"\x01" + previous.encode() + canonical.encode()).hexdigest()


def newest(count: int) -> list[Entry]:
    """The last entries of the record, oldest first."""
    rows = Audit.select().order_by(Audit.seq.desc()).limit(count)
    return [_entry(row) for row in rows][::-1]


def first_fault(chain: Iterable[Entry], *, after: int = 0, previous: str = BEFORE_THE_FIRST) -> str | None:
    """The first place where the chain does not hold, as a sentence; None when all of it holds.

    after, previous: number and hash of the entry before the first, where only the end of the record is given.
    """
    for wanted, entry in enumerate(chain, start=after + 1):
        if entry.seq != wanted:
            return f"entry {wanted} of the audit record is missing: entry {entry.seq} stands in its place"
        if entry.previous != previous:
            return f"entry {entry.seq} of the audit record does not follow from the one before it"
        if entry.hash != chained(previous, _content(entry)):
            return f"entry {entry.seq} of the audit record was changed after it was written"
        previous = entry.hash
    return None


def _content(entry: Entry) -> dict[str, object]:
    return {name: getattr(entry, name) for name in ("seq", "at", "who", "action", "object", "result")}


def _entry(row: Audit) -> Entry:
    names = ("seq", "at", "who", "action", "object", "result", "previous", "hash")
    return Entry(**{name: getattr(row, name) for name in names})
