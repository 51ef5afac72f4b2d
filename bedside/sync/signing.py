"""Changing the site's rulebook: proposed, signed by one person or two, published, and everything judged again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from bedside.clinical.editions import Proposal, propose
from bedside.people.roles import FIRST_SIGNATURE, ROLE_WORDS, SECOND_SIGNATURE, Role
from bedside.records import rulebooks
from bedside.records.database import writing
from bedside.records.rulebooks import Proposed
from bedside.sync.books import book_in_force, next_edition
from bedside.sync.standing import catch_up


class SigningRefused(ValueError):
    """The change cannot be proposed or signed like this; the sentence says why and what to do."""


def propose_change(changes: Mapping[str, float], reason: str, *, by: str, at: datetime) -> int:
    """Keep a proposal for others to look at and sign; gives its id. Raises SigningRefused."""
    with writing():
        book = book_in_force()
        refusals = propose(book, changes, reason).refusals
        if refusals:
            raise SigningRefused(" ".join(refusals))
        wanted = {name: value for name, value in changes.items() if value != book.value(name)}
        return rulebooks.add_proposal(wanted, reason.strip(), edition=book.edition, by=by, at=at)


def sign(proposal: int, *, by: str, role: str, at: datetime) -> int | None:
    """Sign a proposal; gives the number of the edition it made, None while another signature is wanted.

    1. Refuse what is settled, or was written for another edition.  2. Weigh it again by the book in force.
    3. Refuse a signature that may not be given.  4. Keep it.  5. With the last one: publish, judge everything again.

    Raises SigningRefused.
    """
    with writing():
        proposed = _still_open(proposal)
        weighed = weighed_now(proposed)
        if weighed.refusals:
            raise SigningRefused(" ".join(weighed.refusals))
        refusal = why_not_sign(proposed, weighed, by=by, role=role)
        if refusal:
            raise SigningRefused(refusal)
        rulebooks.add_act(proposal, rulebooks.SIGNED, by=by, at=at)
        signers = [*(act.by for act in proposed.signatures), by]
        if len(signers) < weighed.signatures_needed:
            return None
        book = next_edition(proposed.changes, at)
        rulebooks.publish(book, proposed, signers, at=at)
        catch_up(at)
        return book.edition


def withdraw(proposal: int, *, by: str, at: datetime) -> None:
    """Take an open proposal off the table. Raises SigningRefused."""
    with writing():
        if not _known(proposal).is_open:
            raise SigningRefused("This proposal is settled already. Look at the editions.")
        rulebooks.add_act(proposal, rulebooks.WITHDRAWN, by=by, at=at)


def weighed_now(proposed: Proposed) -> Proposal:
    """What the proposal would change, by the book in force."""
    return propose(book_in_force(), proposed.changes, proposed.reason)


def is_for_todays_book(proposed: Proposed) -> bool:
    """Report whether the edition it was written for still rules."""
    return proposed.on_edition == rulebooks.edition_number()


def why_not_sign(proposed: Proposed, weighed: Proposal, *, by: str, role: str) -> str:
    """Why this person cannot sign now, as a sentence; empty when they can."""
    if by in {act.by for act in proposed.signatures}:
        return "You have signed this already. A looser limit needs somebody else, too."
    if not proposed.signatures:
        return "" if role in FIRST_SIGNATURE else f"The first signature is for {_named(FIRST_SIGNATURE)}. Ask them."
    if role not in SECOND_SIGNATURE:
        return f"The second signature is for {_named(SECOND_SIGNATURE)}. Ask one of them."
    return "" if len(proposed.signatures) < weighed.signatures_needed else "Nobody else needs to sign this."


def _still_open(proposal: int) -> Proposed:
    proposed = _known(proposal)
    if not proposed.is_open:
        raise SigningRefused("This proposal is settled already. Look at the editions.")
    if not is_for_todays_book(proposed):
        raise SigningRefused("The rulebook has changed since this was proposed. Withdraw it and propose it anew.")
    return proposed


def _known(proposal: int) -> Proposed:
    proposed = rulebooks.find_proposal(proposal)
    if proposed is None:
        raise SigningRefused("There is no such proposal. Go back to the rulebook and choose it again.")
    return proposed


def _named(roles: frozenset[str]) -> str:
    return " or ".join(f"a {ROLE_WORDS[Role(role)]}" for role in sorted(roles))
