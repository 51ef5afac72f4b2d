"""Which rulebook counts: the one a tablet held while this house knows it, else today's."""

from __future__ import annotations

from datetime import datetime

from bedside.clinical.rulebook import Rulebook, default_book
from bedside.records.moments import as_text
from bedside.records.tables import Rulebook as Published


def book_in_force() -> Rulebook:
    """Today's rulebook: the built-in one. A site's own, signed edition is not built yet."""
    return default_book()


def book_of(held: str | None) -> Rulebook:
    """The rulebook of a hash; today's for a hash this release cannot read. `VisitNow` keeps both hashes,
    so that the
    page can say by which book a visit was judged."""
    return book_in_force()


def keep_book(at: datetime) -> bool:
    """Keep the very bytes packets carry; reports whether they are new to this house. Call inside
    `writing()`.
    """
    book = book_in_force()
    if Published.select().where(Published.hash == book.hash).exists():
        return False
    now = as_text(at)
    Published.insert(hash=book.hash, text=book.text, since=now, published_at=now, note="built in").execute()
    return True
