"""A site's own rulebook: what was proposed, who signed it, and the editions that came of it. Rows are added,
never changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from bedside.clinical.editions import Moved
from bedside.clinical.rulebook import Rulebook as Book
from bedside.records import audit
from bedside.records.house import a_packet_changed
from bedside.records.moments import as_text
from bedside.records.tables import Person, Rulebook, RulebookEdition, RulebookProposal, RulebookSignature

SIGNED, WITHDRAWN = "signed", "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What one person did to a proposal, and when."""

    act: str
    by: str
    name: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """One proposal. `on_edition` is the edition it would change; `became` the one it made, None while it has not."""

    id: int
    changes: Mapping[str, float]
    reason: str
    on_edition: int
    by: str
    name: str
    at: str
    acts: tuple[Act, ...]
    became: int | None

    @property
    def signatures(self) -> tuple[Act, ...]:
        return tuple(act for act in self.acts if act.act == SIGNED)

    @property
    def is_withdrawn(self) -> bool:
        return any(act.act == WITHDRAWN for act in self.acts)

    @property
    def is_open(self) -> bool:
        """Report whether it still waits for a signature."""
        return self.became is None and not self.is_withdrawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """One edition as it was published: the built-in book's bytes have number None."""

    number: int | None
    hash: str
    text: str
    since: str
    signed_by: str
    second_by: str
    reason: str


def add_proposal(changes: Mapping[str, float], reason: str, *, edition: int, by: str, at: datetime) -> int:
    """Keep a proposal; gives its id. Call inside `writing()`."""
    row = {"changes": dict(changes), "reason": reason, "edition": edition, "by": by, "at": as_text(at)}
    made = int(RulebookProposal.insert(row).execute())
    audit.write(who=by, action="rulebook change proposed", object=f"proposal {made}", result=_said(changes), at=at)
    return made


def add_act(proposal: int, act: str, *, by: str, at: datetime) -> None:
    """Keep a signature or a withdrawal. Call inside `writing()`."""
    RulebookSignature.insert(proposal=proposal, act=act, by=by, at=as_text(at)).execute()
    audit.write(who=by, action=f"rulebook change {act}", object=f"proposal {proposal}", at=at)


def publish(book: Book, proposed: Proposed, signers: Iterable[str], *, at: datetime) -> None:
    """Keep an edition's bytes for good; every tablet fetches it. Call inside `writing()`."""
    first, second = [*signers, None][:2]
    now = as_text(at)
    bytes_of_it = {"hash": book.hash, "text": book.text, "since": now, "published_at": now, "signed_by": first}
    Rulebook.insert({**bytes_of_it, "note": proposed.reason}).execute()
    RulebookEdition.insert(
        number=book.edition,
        rulebook=book.hash,
        proposal=proposed.id,
        signed_by=first,
        second_by=second,
        reason=proposed.reason,
        published_at=now,
    ).execute()
    audit.write(
        who=str(second or first), action="rulebook published", object=book.hash, result=f"edition {book.edition}", at=at
    )
    a_packet_changed()


def edition_number() -> int:
    """The number of the edition in force; 0 is the built-in book."""
    latest = RulebookEdition.select().order_by(RulebookEdition.number.desc()).first()
    return latest.number if latest else 0


def moved() -> dict[str, Moved]:
    """Every limit this site has set, as its newest edition left it. A day begins by UTC."""
    rows = RulebookEdition.select(RulebookEdition, RulebookProposal).join(RulebookProposal)
    return {
        name: Moved(value, date.fromisoformat(row.published_at[:10]))
        for row in rows.order_by(RulebookEdition.number)
        for name, value in row.proposal.changes.items()
    }


def find_proposal(proposal: int) -> Proposed | None:
    """One proposal, or None when there is none of this id."""
    return next(iter(_proposals(RulebookProposal.id == proposal)), None)


def proposals() -> list[Proposed]:
    """Every proposal, the newest first."""
    return _proposals(RulebookProposal.id.is_null(False))


def _proposals(which: object) -> list[Proposed]:
    rows = list(RulebookProposal.select().where(which).order_by(RulebookProposal.id.desc()))
    names = _names()
    acts: dict[int, list[Act]] = {row.id: [] for row in rows}
    for act in (
        RulebookSignature.select().where(RulebookSignature.proposal << list(acts)).order_by(RulebookSignature.id)
    ):
        acts[act.proposal_id].append(Act(act=act.act, by=act.by_id, name=names[act.by_id], at=act.at))
    became = {row.proposal_id: row.number for row in RulebookEdition.select()}
    return [
        Proposed(
            id=row.id,
            changes=row.changes,
            reason=row.reason,
            on_edition=row.edition,
            by=row.by_id,
            name=names[row.by_id],
            at=row.at,
            acts=tuple(acts[row.id]),
            became=became.get(row.id),
        )
        for row in rows
    ]


def editions() -> list[Published]:
    """Every book this house has kept, the newest first: the site's own editions, and what releases brought."""
    names = _names()
    own = {row.rulebook_id: row for row in RulebookEdition.select()}
    rows = Rulebook.select().order_by(Rulebook.published_at.desc(), Rulebook.hash)
    return [_published(row, own.get(row.hash), names) for row in rows]


def find_edition(hash: str) -> Published | None:
    """One kept book by its hash."""
    row = Rulebook.get_or_none(Rulebook.hash == hash)
    own = RulebookEdition.get_or_none(RulebookEdition.rulebook == hash)
    return _published(row, own, _names()) if row else None


def _published(row: Rulebook, own: RulebookEdition | None, names: Mapping[str, str]) -> Published:
    return Published(
        number=own.number if own else None,
        hash=row.hash,
        text=row.text,
        since=row.since,
        signed_by=names.get(row.signed_by_id, ""),
        second_by=names.get(own.second_by_id, "") if own else "",
        reason=row.note,
    )


def _names() -> dict[str, str]:
    return {row.id: row.name for row in Person.select(Person.id, Person.name)}


def _said(changes: Mapping[str, float]) -> str:
    return ", ".join(f"{name}={value:g}" for name, value in changes.items())
