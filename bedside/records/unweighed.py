"""Patients who may give no blood until somebody enters a weight. Read-only."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime

from bedside.clinical.rulebook import Rulebook
from bedside.clinical.volume import Age, limit_ml
from bedside.records.tables import Patient
from bedside.records.volumes_allowed import allowed_now


def unweighed(patients: Collection[str], book: Rulebook, at: datetime) -> frozenset[str]:
    """Those of these patients whose limit is nothing for want of a weight, and to whom nobody allowed a draw."""
    rows = Patient.select().where((Patient.id << list(patients)) & Patient.weight_kg.is_null())
    stopped = {row.id for row in rows if _may_give_nothing(date.fromisoformat(row.birth_date), book, at)}
    return frozenset(stopped - set(allowed_now(stopped, at)))


def _may_give_nothing(birth_date: date, book: Rulebook, at: datetime) -> bool:
    age = Age.on(at.date(), birth_date)
    return limit_ml(age=age, weight_kg=None, limits=book.limits, tables=book.volumes) == 0
