"""The rounds that are out, each with what hangs on it: the tablets that fetched it and the beds still under way.
Read-only.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bedside.records.tables import Enrolment, Packet, Person, Round, SpecimenNumber, Tablet, Visit, VisitNow


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrying:
    """A tablet that fetched the round. `has_it`: it was not handed back since, or is not enrolled and cannot say so.

    unsent: how many records it said it still held when it was handed back.
    """

    tablet: str
    name: str
    has_it: bool
    unsent: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundOut:
    """An open round. `begun`: visits that have begun and not ended; `left`: all that have not ended."""

    id: str
    name: str
    person: str
    person_name: str
    taken_at: str
    begun: int
    left: int
    tablets: tuple[Carrying, ...]


def rounds_out() -> tuple[RoundOut, ...]:
    """Every open round, the earliest first."""
    rows = list(Round.select(Round, Person).join(Person).where(Round.closed_at.is_null()).order_by(Round.taken_at))
    holders = _holders([row.id for row in rows])
    return tuple(
        RoundOut(
            id=row.id,
            name=row.name,
            person=row.person_id,
            person_name=row.person.name,
            taken_at=row.taken_at,
            begun=_begun(row.id),
            left=_left(row.id),
            tablets=_carrying(holders.get(row.id, set())),
        )
        for row in rows
    )


def rounds_on(tablet: str) -> tuple[RoundOut, ...]:
    """The open rounds this tablet has fetched."""
    return tuple(out for out in rounds_out() if tablet in {each.tablet for each in out.tablets})


def _holders(rounds: Collection[str]) -> dict[str, set[str]]:
    """Who fetched each round: whoever got spare numbers with it."""
    packets = {row.id: row.round_id for row in Packet.select(Packet.id, Packet.round).where(Packet.round << rounds)}
    numbers = SpecimenNumber.select(SpecimenNumber.packet, SpecimenNumber.holder).distinct()
    found: dict[str, set[str]] = {}
    for row in numbers.where((SpecimenNumber.packet << list(packets)) & SpecimenNumber.holder.is_null(False)):
        found.setdefault(packets[row.packet], set()).add(row.holder)
    return found


def _carrying(holders: Collection[str]) -> tuple[Carrying, ...]:
    names = {row.id: row.name for row in Tablet.select(Tablet.id, Tablet.name).where(Tablet.id << list(holders))}
    enrolled = {row.tablet_id: row for row in Enrolment.select().where(Enrolment.tablet << list(holders))}
    return tuple(
        Carrying(
            tablet=holder,
            name=names.get(holder) or "a browser that is not enrolled",
            has_it=holder not in enrolled or enrolled[holder].carries_until is not None,
            unsent=(enrolled[holder].unsent_then or 0) if holder in enrolled else 0,
        )
        for holder in sorted(holders)
    )


def _begun(round_id: str) -> int:
    under_way = VisitNow.select().join(Visit).where((Visit.round == round_id) & VisitNow.ended_at.is_null())
    return int(under_way.count())


def _left(round_id: str) -> int:
    ended = VisitNow.select(VisitNow.visit).where(VisitNow.ended_at.is_null(False))
    return int(Visit.select().where((Visit.round == round_id) & Visit.id.not_in(ended)).count())
