"""One visit's whole case: patient and tubes as ordered, what happened, what may come next, and what time it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedside.clinical import shapes
from bedside.clinical.bad_input import BadInput, UnknownTube
from bedside.clinical.containers import CONTAINERS
from bedside.clinical.events import Event, check_correction, read_event, read_next
from bedside.clinical.shapes import amount, day, fields, flag, listed, text, word


@dataclass(frozen=True, slots=True, kw_only=True)
class Restriction:
    """A side that is closed for drawing, and why."""

    side: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient:
    """The patient as the order knows them. `name` is "Family, Given"; `birth_date` is YYYY-MM-DD."""

    name: str
    birth_date: str
    record_number: str
    blood_thinner: bool = False
    latex_allergy: bool = False
    restrictions: tuple[Restriction, ...] = ()
    permissions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """One container of the plan. `specimen` is what its label reads; `nominal_ml` its size; `tests` their codes."""

    id: str
    kind: str
    specimen: str | None = None
    nominal_ml: float
    tests: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Everything a judgement needs. `needle` is the kind planned; `max_draw_ml` caps this visit, None means no cap.

    steps: what has not happened yet and is judged as if it happened now, in order.
    """

    patient: Patient
    tubes: tuple[Tube, ...]
    events: tuple[Event, ...]
    now_ms: int
    needle: str = "straight"
    cancelled: bool = False
    max_draw_ml: float | None = None
    steps: tuple[Event, ...] = ()

    def then(self, step: Event) -> Case:
        """The same case with one more step to come."""
        return replace(self, steps=(*self.steps, step))


_RESTRICTION = fields(
    required=("side", "why"), side=word("left", "right"), why=word("fistula", "lymph_nodes", "iv", "other")
)
_PATIENT = fields(
    required=("name", "birth_date", "record_number"),
    name=text, birth_date=day, record_number=text, blood_thinner=flag, latex_allergy=flag,
    restrictions=listed(_RESTRICTION), permissions=listed(word("foot", "left", "right")), drawn_24h_ml=amount,
)  # fmt: skip
_TUBE = fields(
    required=("id", "kind"), id=text, kind=word(*CONTAINERS), specimen=text, nominal_ml=amount, tests=listed(text)
)
_CASE = fields(
    required=("patient", "now"),
    patient=_PATIENT, needle=word("straight", "winged", "syringe"), tubes=listed(_TUBE), cancelled=flag,
    limits=fields(max_draw_ml=amount), now=shapes.instant, events=listed(shapes.record), next=shapes.record,
)  # fmt: skip


def read_case(raw: object) -> Case:
    """The case of a file as the contract writes it. Raises `BadInput` naming the field and the value."""
    given = _CASE("case", raw)
    now_ms = given["now"]
    case = Case(
        patient=_patient(given["patient"]),
        tubes=_tubes(given.get("tubes", ())),
        events=once_each(read_event(one, f"events[{place}]") for place, one in enumerate(given.get("events", ()))),
        now_ms=now_ms,
        needle=given.get("needle", "straight"),
        cancelled=given.get("cancelled", False),
        max_draw_ml=given.get("limits", {}).get("max_draw_ml"),
        steps=(read_next(given["next"], now_ms),) if "next" in given else (),
    )
    check_tubes(case)
    check_corrections(case)
    return case


def once_each(events: Iterable[Event]) -> tuple[Event, ...]:
    """Each event once. Raises `BadInput` when one id stands for two contents."""
    seen: dict[str, Event] = {}
    kept: list[Event] = []
    for event in events:
        if event.id is None:
            kept.append(event)
        elif event.id not in seen:
            seen[event.id] = event
            kept.append(event)
        elif seen[event.id] != event:
            raise BadInput("events.id", event.id, "stands for two different events")
    return tuple(kept)


def added_tubes(events: Iterable[Event]) -> tuple[Tube, ...]:
    """The tubes that were added at the bedside, in the order given."""
    return tuple(_added(event) for event in events if event.kind == "tube_added")


def check_tubes(case: Case) -> None:
    """Raise `UnknownTube` when an event is about a tube that neither the plan nor an event announces."""
    events = [*case.events, *case.steps]
    known = {tube.id for tube in (*case.tubes, *added_tubes(events))}
    for event in events:
        tube = tube_named(event)
        if tube is not None and tube not in known:
            raise UnknownTube(f"{event.kind}.tube", tube, "is not a tube of this visit")


def tube_named(event: Event) -> str | None:
    """The tube an event is about, or the one a correction puts in its place."""
    data = event.data.get("data") or {} if event.kind == "corrected" else event.data
    tube: str | None = data.get("tube")
    return tube


def check_corrections(case: Case) -> None:
    """Raise `BadInput` when a correction's data does not fit the event it corrects."""
    by_id = {event.id: event for event in case.events}
    for correction in (*case.events, *case.steps):
        corrected = by_id.get(correction.data["event"]) if correction.kind == "corrected" else None
        if corrected is not None:
            check_correction(correction, corrected)


def _patient(given: Mapping[str, Any]) -> Patient:
    known = {name: given[name] for name in Patient.__dataclass_fields__ if name in given}
    restrictions = tuple(Restriction(side=one["side"], why=one["why"]) for one in given.get("restrictions", ()))
    return Patient(**{**known, "restrictions": restrictions})


def _tubes(given: Iterable[Mapping[str, Any]]) -> tuple[Tube, ...]:
    tubes = tuple(_tube(one, one["id"]) for one in given)
    ids = [tube.id for tube in tubes]
    for place, tube in enumerate(tubes):
        if tube.id in ids[:place]:
            raise BadInput("tubes.id", tube.id, "stands for two tubes")
    return tubes


def _added(event: Event) -> Tube:
    return _tube(event.data, event.data["tube"])


def _tube(given: Mapping[str, Any], tube: str) -> Tube:
    kind = given["kind"]
    return Tube(
        id=tube,
        kind=kind,
        specimen=given.get("specimen"),
        nominal_ml=given.get("nominal_ml", CONTAINERS[kind].nominal_ml),
        tests=given.get("tests", ()),
    )
