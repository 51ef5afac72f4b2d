"""The containers of the last shifts on their way to the laboratory: filled, handed over, refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from bedside.records.laboratory_tables import SpecimenRefused
from bedside.records.moments import as_text
from bedside.records.specimens_refused import refusals_of
from bedside.records.tables import Patient, Tube, Visit, VisitNow, Ward

SHOWN_FOR = timedelta(hours=24)
"""How long a container is shown after its visit's last event: a day (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen:
    """One filled container. handed_over: `{"at", "to", "kept", "by"}` or None. refused: the row, or None."""

    specimen: str
    kind: str
    tests: tuple[str, ...]
    handling: tuple[str, ...]
    filled_at: str
    patient: Patient
    handed_over: dict[str, Any] | None
    refused: SpecimenRefused | None


def specimens_now(at: datetime) -> list[Specimen]:
    """Every container for the laboratory that was filled lately, the oldest first."""
    since = as_text(at - SHOWN_FOR)
    rows = list(
        VisitNow.select(VisitNow, Visit, Patient, Ward)
        .join(Visit)
        .join(Patient)
        .join(Ward)
        .where(VisitNow.last_at >= since)
    )
    filled = [(row, tube) for row in rows for tube in row.tubes if _is_for_the_lab(tube)]
    refused = refusals_of([tube["specimen"] for _, tube in filled if tube["specimen"]])
    handling = {row.id: row.handling for row in Tube.select().where(Tube.id << [tube["tube"] for _, tube in filled])}
    found = [_specimen(row.visit.patient, tube, handling, refused) for row, tube in filled]
    return sorted(found, key=lambda one: (one.filled_at, one.specimen))


def _is_for_the_lab(tube: dict[str, Any]) -> bool:
    return bool(tube["filled_at"]) and not tube["discarded"] and tube["kind"] != "discard"


def _specimen(
    patient: Patient, tube: dict[str, Any], handling: dict[str, list[str]], refused: dict[str, SpecimenRefused]
) -> Specimen:
    return Specimen(
        specimen=tube["specimen"] or "",
        kind=tube["kind"],
        tests=tuple(tube["tests"]),
        handling=tuple(handling.get(tube["tube"], ())),
        filled_at=tube["filled_at"],
        patient=patient,
        handed_over=tube.get("handed_over"),
        refused=refused.get(tube["specimen"]),
    )
