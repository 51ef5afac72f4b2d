"""Who is out with a round, with how much, and when a tablet of theirs was last heard. Read-only."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bedside.records.tables import Person, Round, Tablet, Visit, VisitNow


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """Somebody out with a round, and when a tablet of theirs was last heard."""

    name: str
    round: str
    taken_at: str
    visits_left: int
    last_heard_at: str | None


def carriers_of(visits: Collection[str]) -> dict[str | None, str]:
    query = Visit.select(Visit, Round, Person).join(Round).join(Person).where(Visit.id.in_(visits))
    return {visit.id: visit.round.person.name for visit in query}


def carriers(ward: str) -> tuple[Carrier, ...]:
    """Who is out on this ward, earliest first."""
    rounds = (
        Round.select(Round, Person)
        .join(Person)
        .where(Round.ward == ward, Round.closed_at.is_null())
        .order_by(Round.taken_at)
    )
    return tuple(
        Carrier(
            name=out.person.name,
            round=out.name,
            taken_at=out.taken_at,
            visits_left=_visits_left(out),
            last_heard_at=last_heard(out.person_id),
        )
        for out in rounds
    )


def _visits_left(out: Round) -> int:
    """Visits of the round that have not ended."""
    ended = VisitNow.select(VisitNow.visit).where(VisitNow.ended_at.is_null(False))
    count: int = Visit.select().where(Visit.round == out, Visit.id.not_in(ended)).count()
    return count


def last_heard(person: str) -> str | None:
    """When a tablet this person was signed in on last spoke to the server."""
    newest = Tablet.select().where(Tablet.person == person).order_by(Tablet.last_seen_at.desc()).first()
    return newest.last_seen_at if newest else None
