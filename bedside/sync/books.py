"""Which rulebook counts: the one a tablet held while this house knows it, else today's."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

from bedside.clinical.book_text import BookUnreadable, read_book
from bedside.clinical.rulebook import Rulebook, default_book
from bedside.records.house import judged_by, note_judged_by
from bedside.records.moments import as_text, now
from bedside.records.tables import Rulebook as Published


def book_in_force() -> Rulebook:
    """Today's rulebook: the site's latest signed edition that has begun, the built-in book while
    there is none.
    """
    signed = Published.signed_by.is_null(False) & (Published.since <= as_text(now()))
    latest = Published.select().where(signed).order_by(Published.since.desc(), Published.published_at.desc()).first()
    return (_read(latest.hash, latest.text) if latest else None) or default_book()


def book_of(held: str | None) -> Rulebook:
    """The rulebook of a hash; today's for a hash this house never kept or this release cannot read.

    `VisitNow` keeps both hashes, so that the page can say by which book a visit was judged.
    """
    today = book_in_force()
    if held is None or held == today.hash:
        return today
    row = Published.get_or_none(Published.hash == held)
    return (_read(row.hash, row.text) if row else None) or today


def keep_book(at: datetime) -> bool:
    """Keep the very bytes packets carry; reports whether another book is in force than when all was
    judged last.

    Call inside `writing()`. Whoever is told so judges everything again.
    """
    book, kept_at = book_in_force(), as_text(at)
    if not Published.select().where(Published.hash == book.hash).exists():
        Published.insert(hash=book.hash, text=book.text, since=kept_at, published_at=kept_at, note="built in").execute()
    if judged_by() == book.hash:
        return False
    note_judged_by(book.hash)
    return True


@lru_cache(maxsize=16)
def _read(digest: str, text: str) -> Rulebook | None:
    """A kept book, read once for each hash; None for one of a release that wrote books another way."""
    try:
        return read_book(text)
    except BookUnreadable:
        return None
