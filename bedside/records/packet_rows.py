"""The rows a packet is made of, read in one go."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from bedside.clinical.volume import Given
from bedside.records import claims, rounds_open
from bedside.records.blood_drawn import NOTHING, drawn_from
from bedside.records.tables import Order, Packet, Patient, Person, Round, Tube, Visit, VisitNow
from bedside.records.volumes_allowed import Allowed, allowed_now


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitCarried:
    """A visit as the packet carries it. `ended` is None, or what its end says; `begun` is None, or when and by whom.

    given: what other visits drew, this one left out: its own blood is counted on the tablet.
    allowed: what somebody allowed above the limit, if anybody did.
    """

    id: str
    position: int
    patient: Patient
    needle: str
    max_draw_ml: float | None
    plan_findings: list[dict[str, Any]]
    orders: tuple[Order, ...]
    tubes: tuple[Tube, ...]
    given: Given
    allowed: Allowed | None
    has_begun: bool
    begun: dict[str, Any] | None
    ended: dict[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Everything a packet carries besides the rules and the directory. `person`: whose round it is."""

    person: str
    visits: tuple[VisitCarried, ...]
    people: tuple[Person, ...]
    ward_people: tuple[Patient, ...]
    nurse_orders: tuple[Order, ...]


AHEAD = timedelta(hours=12)
"""How far ahead nurses' draws are shown."""


def carried(out: Round, at: datetime) -> Carried:
    """The rows of a round's packet."""
    visits = rounds_open.visits_of(out.id)
    ids = [visit.id for visit in visits]
    patients = [visit.patient.id for visit in visits]
    drawn, allowed = drawn_from(patients, at), allowed_now(patients, at)
    rows = {row.id: row for row in Visit.select().where(Visit.id << ids)}
    now = {row.visit_id: row for row in VisitNow.select().where(VisitNow.visit << ids)}
    tablets = _tablets_at(now)
    tubes = _tubes(ids)
    return Carried(
        person=out.person_id,
        visits=tuple(
            VisitCarried(
                id=visit.id,
                position=visit.position,
                patient=visit.patient,
                needle=rows[visit.id].needle,
                max_draw_ml=rows[visit.id].max_draw_ml,
                plan_findings=rows[visit.id].plan_findings,
                orders=visit.orders,
                tubes=tuple(tubes.get(visit.id, ())),
                given=drawn.get(visit.patient.id, NOTHING).given(without=visit.id),
                allowed=allowed.get(visit.patient.id),
                has_begun=visit.has_begun,
                begun=_begun(now.get(visit.id), tablets.get(visit.id)),
                ended=_ended(now.get(visit.id)),
            )
            for visit in visits
        ),
        people=tuple(Person.select().where(Person.disabled_at.is_null()).order_by(Person.name, Person.id)),
        ward_people=tuple(rounds_open.ward_people(out.ward_id)),
        nurse_orders=tuple(rounds_open.nurse_orders(out.ward_id, at + AHEAD)),
    )


def first_made_at(packet: str, revision: int) -> str | None:
    """When this revision of a packet was fetched first: fetching it again gives the same packet again."""
    row = Packet.get_or_none((Packet.id == packet) & (Packet.revision == revision))
    return row.made_at if row else None


def note_fetched(
    *, packet: str, round_id: str, person: str, revision: int, made_at: str, until: str, digest: str
) -> None:
    """Keep one row for each revision that left the house."""
    if first_made_at(packet, revision) is None:
        Packet.insert(
            id=packet,
            round=round_id,
            person=person,
            revision=revision,
            made_at=made_at,
            until=until,
            hash=digest,
        ).execute()


def _tubes(visits: list[str]) -> dict[str, list[Tube]]:
    found: dict[str, list[Tube]] = {}
    live = (Tube.visit << visits) & Tube.withdrawn_at.is_null()
    for row in Tube.select().where(live).order_by(Tube.position, Tube.id):
        found.setdefault(row.visit_id, []).append(row)
    return found


def _tablets_at(visits: Collection[str]) -> dict[str, str]:
    """What the house calls the tablet that is at each of these beds, where it has a name for it."""
    claimed = claims.claims_of(visits)
    names = claims.names_of({claim.tablet for claim in claimed.values()})
    return {visit: names[claim.tablet] for visit, claim in claimed.items() if claim.tablet in names}


def _begun(row: VisitNow | None, tablet: str | None) -> dict[str, Any] | None:
    """Since when, by whom, on which tablet: one that has none of its events must not take the bed for untouched."""
    if row is None:
        return None
    return {"at": row.arrived_at or row.last_at, "by": row.by, "tablet": tablet}


def _ended(row: VisitNow | None) -> dict[str, Any] | None:
    if row is None or row.ended_at is None:
        return None
    return {"at": row.ended_at, "outcome": row.outcome}
