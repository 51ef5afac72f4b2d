"""Incidents as the records tell them: the register, one incident with its visit, and what to count for rates.

Read-only. Reviews are added by `bedside.records.incident_reviews`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from bedside.records.person_names import person_name
from bedside.records.tables import Event, Incident, IncidentReview, Patient, Person, Visit, VisitNow, Ward


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """One row of what was done about an incident; rows are only ever added."""

    kind: str
    text: str
    by: str
    by_id: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """What the rows of one incident add up to: of each kind the latest counts, and all of them are kept."""

    is_closed: bool = False
    cause: str = ""
    action: str = ""
    harm: str = ""
    second_reading: str = ""
    decided_by: str = ""
    closed_at: str = ""
    history: tuple[Review, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """What a correction at the bedside took back (`opening`, `note`, `identity`): by whom, when, why, what it said."""

    what: str
    by: str
    at: str
    reason: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """An incident: what, when, where, whom, and how far its review is."""

    id: str
    kind: str
    severity: str
    happened_at: str
    visit: str
    patient: str
    record_number: str
    ward: str
    room: str
    bed: str
    by: str
    steps: tuple[str, ...]
    told: Any
    note: str
    is_complete: bool
    by_itself: bool
    opened_event: str | None
    noted_event: str | None
    reviewed: Reviewed
    strikes: tuple[Strike, ...] = ()
    is_struck: bool = False
    told_last_at: str = ""

    @property
    def came_after_closing(self) -> bool:
        """Whether a note or a strike reached the house after the incident was closed: then it waits again."""
        return self.reviewed.is_closed and self.told_last_at > self.reviewed.closed_at

    @property
    def is_closed(self) -> bool:
        """Whether it is reviewed and closed, and nothing came in since."""
        return self.reviewed.is_closed and not self.came_after_closing


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedVisit:
    """What the rates need of one visit that has ended: when, how, needles used, which incidents."""

    id: str
    ended_at: str
    outcome: str
    needles: int
    tubes_read: int
    incidents: tuple[str, ...]
    tourniquet_longest_s: float | None


def register() -> tuple[Case, ...]:
    """Every incident: unfinished notes first, then those to review, then the closed; newest first in each."""
    reviews = _reviews()
    cases = [_case(row, reviews[row.id]) for row in _incidents()]
    newest_first = sorted(cases, key=lambda case: case.happened_at, reverse=True)
    return tuple(sorted(newest_first, key=urgency))


def urgency(case: Case) -> int:
    """0: the note is unfinished; 1: to review, which a struck one is, too; 2: closed."""
    if case.is_closed:
        return 2
    return 1 if case.is_complete or case.is_struck else 0


def find_case(incident: str) -> Case | None:
    """One incident, or None when there is none with this id."""
    row = _incidents().where(Incident.id == incident).first()
    return _case(row, _reviews(incident)[incident]) if row else None


def add_up(history: Sequence[Review]) -> Reviewed:
    """Fold the rows of one incident, oldest first."""
    latest: dict[str, str] = {}
    is_closed, closed_at = False, ""
    for review in history:
        latest[review.kind] = review.text
        if review.kind in ("closed", "reopened"):
            is_closed, closed_at = review.kind == "closed", review.at
    return Reviewed(
        is_closed=is_closed,
        cause=latest.get("cause", ""),
        action=latest.get("action", ""),
        harm=latest.get("harm", ""),
        second_reading=latest.get("second_reading", ""),
        decided_by=latest.get("decided_by", ""),
        closed_at=closed_at if is_closed else "",
        history=tuple(history),
    )


def ended_visits() -> tuple[EndedVisit, ...]:
    """Every visit that has ended, in the order of ending."""
    kinds = defaultdict(list)
    for row in Incident.select().where(~Incident.struck).order_by(Incident.happened_at):
        kinds[row.visit_id].append(row.kind)
    rows = VisitNow.select().where(VisitNow.ended_at.is_null(False)).order_by(VisitNow.ended_at)
    return tuple(
        EndedVisit(
            id=row.visit_id,
            ended_at=row.ended_at,
            outcome=row.outcome or "",
            needles=row.needles,
            tubes_read=sum(1 for tube in row.tubes or () if tube.get("read_back")),
            incidents=tuple(kinds[row.visit_id]),
            tourniquet_longest_s=row.tourniquet_longest_s,
        )
        for row in rows
    )


def kinds_of(cases: Iterable[Case]) -> Counter[str]:
    """How many incidents of each kind."""
    return Counter(case.kind for case in cases)


def _incidents() -> Any:
    return Incident.select(Incident, Visit, Patient, Ward).join(Visit).join(Patient).join(Ward)


def _reviews(incident: str | None = None) -> dict[str, list[Review]]:
    query = IncidentReview.select(IncidentReview, Person).join(Person).order_by(IncidentReview.id)
    if incident is not None:
        query = query.where(IncidentReview.incident == incident)
    found: dict[str, list[Review]] = defaultdict(list)
    for row in query:
        found[row.incident].append(Review(kind=row.kind, text=row.text, by=row.by.name, by_id=row.by_id, at=row.at))
    return found


def _case(row: Incident, reviews: Sequence[Review]) -> Case:
    patient = row.visit.patient
    return Case(
        id=row.id,
        kind=row.kind,
        severity=row.severity,
        happened_at=row.happened_at,
        visit=row.visit_id,
        patient=patient.name,
        record_number=patient.record_number,
        ward=patient.ward.name,
        room=patient.room,
        bed=patient.bed,
        by=person_name(row.by),
        steps=tuple(row.steps or ()),
        told=row.told,
        note=row.note,
        is_complete=row.complete,
        by_itself=row.by_itself,
        opened_event=row.opened_event,
        noted_event=row.noted_event,
        reviewed=add_up(reviews),
        strikes=tuple(_strike(one) for one in row.strikes or ()),
        is_struck=row.struck,
        told_last_at=_told_last_at(row),
    )


def _strike(told: dict[str, Any]) -> Strike:
    return Strike(
        what=told["what"], by=person_name(told["by"]), at=told["at"], reason=told["reason"], note=told.get("note") or ""
    )


def _told_last_at(row: Incident) -> str:
    """When the latest word about it reached the house: its note, or what struck any of it."""
    events = [row.noted_event, *(one["correction"] for one in row.strikes or ())]
    rows = Event.select(Event.received_at).where(Event.id << [event for event in events if event])
    return max((event.received_at for event in rows), default="")
