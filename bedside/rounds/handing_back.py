"""A tablet comes back: a round closes when nothing hangs on it any more, and otherwise it is said what does.

A round that is closed too early sends a second person to a bed where blood was drawn and not told yet.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from bedside.records import audit
from bedside.records.carried_rounds import Carrying, RoundOut, rounds_on, rounds_out
from bedside.records.tablets import note_handed_back
from bedside.rounds.taking_out import hand_back


class RoundNotOut(ValueError):
    """The round cannot be closed as asked; the sentence says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Returned:
    """What became of one round a tablet carried: closed, or what still hangs on it, as clauses."""

    name: str
    hangs_on: tuple[str, ...]

    @property
    def is_closed(self) -> bool:
        """Report whether what was not begun waits for the next round now."""
        return not self.hangs_on


def take_back(tablet: str, unsent: int, at: datetime) -> tuple[Returned, ...]:
    """Note that a tablet was handed back with so many unsent records, and close the rounds nothing hangs on any more.

    Call inside `writing()`.
    """
    note_handed_back(tablet, unsent, at)
    found = [(out, hangs_on(out)) for out in rounds_on(tablet)]
    for out, why in found:
        if not why:
            hand_back(out.person, at, "tablet")
    return tuple(Returned(name=out.name, hangs_on=why) for out, why in found)


def close_by_hand(round_id: str, at: datetime, by: str, *, has_asked: bool) -> RoundOut:
    """Close a round although something may hang on it. What was begun stays with whoever began it.

    has_asked: whoever closes it says that they know where its tablets are. What hung on it is written down with them.

    Raises RoundNotOut for a round that is closed already, and for one nobody asked about. Call inside `writing()`.
    """
    out = next((each for each in rounds_out() if each.id == round_id), None)
    if out is None:
        raise RoundNotOut("This round is closed already. Load the page again.")
    if not has_asked:
        raise RoundNotOut(
            "Nothing was changed: somebody may still be out with it, and blood drawn there would be drawn again. "
            "Ask first, then tick that you did."
        )
    hand_back(out.person, at, by)
    audit.write(who=by, action="round closed by hand", object=out.id, result="; ".join(hangs_on(out)) or "done", at=at)
    return out


def hangs_on(out: RoundOut) -> tuple[str, ...]:
    """What keeps a round open, as clauses; nothing: it can close. Pure."""
    return (*_under_way(out.begun), *_with_tablets(out.tablets))


def _under_way(begun: int) -> Iterable[str]:
    if begun:
        yield f"{begun} {'visit has' if begun == 1 else 'visits have'} begun and not ended"


def _with_tablets(tablets: Iterable[Carrying]) -> Iterable[str]:
    for each in tablets:
        if each.has_it:
            yield f"{each.name} carries it"
        elif each.unsent:
            yield f"{each.name} still holds {each.unsent} unsent"
