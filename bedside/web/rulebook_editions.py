"""The rulebook's editions as data: which rules, who signed, and what lies between two of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bedside.clinical.book_text import BookUnreadable, read_book
from bedside.clinical.editions import Difference, differences
from bedside.clinical.rulebook import Rulebook
from bedside.records.rulebooks import Published
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.times import local, shown, zone_of

UNSIGNED = "Nobody at this site has signed it yet."


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionLine:
    """One kept book in the history."""

    hash: str
    name: str
    since: str
    signed: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionsPage:
    """The history of the rulebook, and what lies between two editions of it."""

    desk: Desk
    editions: tuple[EditionLine, ...]
    old: str
    new: str
    compared: str
    differences: tuple[Difference, ...]

    @classmethod
    def of(cls, desk: Desk, editions: Sequence[Published], old: str, new: str, now: datetime) -> EditionsPage:
        kept = {one.hash: one for one in editions}
        found, said = _between(kept.get(old), kept.get(new))
        return cls(
            desk=desk,
            editions=tuple(_edition_line(one, now) for one in editions),
            old=old,
            new=new,
            compared=said,
            differences=found,
        )


def edition_sentence(edition: Published | None, book: Rulebook, now: datetime) -> str:
    """Which edition rules, since when and who signed it."""
    if not book.edition:
        return f"The built-in edition. {UNSIGNED}"
    since = f" In force since {shown(local(edition.since, zone_of(now)), now)}." if edition else ""
    signed = f" {signed_words(edition)}." if edition and edition.signed_by else ""
    reason = f" {edition.reason}" if edition and edition.reason else ""
    return f"Edition {book.edition} of this site.{since}{signed}{reason}"


def _edition_line(one: Published, now: datetime) -> EditionLine:
    return EditionLine(
        hash=one.hash,
        name=f"Edition {one.number}" if one.number else "Brought by a release",
        since=shown(local(one.since, zone_of(now)), now),
        signed=signed_words(one) if one.signed_by else "not signed",
        reason=one.reason,
    )


def signed_words(one: Published) -> str:
    return f"Signed by {one.signed_by} and {one.second_by}" if one.second_by else f"Signed by {one.signed_by}"


def _between(old: Published | None, new: Published | None) -> tuple[tuple[Difference, ...], str]:
    if old is None or new is None:
        return (), ""
    try:
        found = differences(read_book(old.text), read_book(new.text))
    except BookUnreadable as unreadable:
        return (), f"These two cannot be compared: {unreadable}"
    return found, sentence(many(len(found), "difference", "differences"))
