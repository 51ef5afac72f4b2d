"""Which rulebook counts: the one a tablet held while this house knows it, else today's."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import lru_cache

from bedside.clinical.book_text import BookUnreadable, completed, read_book
from bedside.clinical.editions import Moved, with_changes
from bedside.clinical.rulebook import Rulebook, default_book
from bedside.records import rulebooks
from bedside.records.house import judged_by, note_judged_by
from bedside.records.moments import as_text
from bedside.records.tables import Rulebook as Published


def book_in_force() -> Rulebook:
    """Today's rulebook: this release's book with the limits of the site's latest signed edition on it."""
    return _with_site(frozenset(rulebooks.moved().items()), rulebooks.edition_number())


def next_edition(changes: Mapping[str, float], at: datetime) -> Rulebook:
    """The edition these changes would make if they were published at this moment."""
    since = date.fromisoformat(as_text(at)[:10])
    changed = {name: Moved(value, since) for name, value in changes.items()}
    moved = {**rulebooks.moved(), **changed}
    return with_changes(default_book(), moved, rulebooks.edition_number() + 1)


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
        note = f"edition {book.edition}, in this release's words" if book.edition else "built in"
        Published.insert(hash=book.hash, text=book.text, since=kept_at, published_at=kept_at, note=note).execute()
    if judged_by() == book.hash:
        return False
    note_judged_by(book.hash)
    return True


@lru_cache(maxsize=4)
def _with_site(moved: frozenset[tuple[str, Moved]], number: int) -> Rulebook:
    """Made once for each edition: writing out and hashing a book takes a moment, and every request asks for it."""
    return with_changes(default_book(), dict(moved), number) if number else default_book()


@lru_cache(maxsize=16)
def _read(digest: str, text: str) -> Rulebook | None:
    """A kept book, read once for each hash; None for one of a release that wrote books another way.

    What today's rules ask for and the old book does not know is taken from this release's: the visit can still be
    judged, and the hash that is shown is no longer the one the tablet held.
    """
    try:
        return completed(read_book(text), default_book())
    except BookUnreadable:
        return None
