"""Taking orders in: all of them or none, each once, and never two people under one record number.

Call inside `writing()`, so that what was compared is still true when it is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bedside.clinical.identity import same_name
from bedside.records import audit, order_standing, patient_facts
from bedside.records.house import a_packet_changed
from bedside.records.identifiers import new_id
from bedside.records.laboratory_tables import OrderSeries
from bedside.records.moments import as_text
from bedside.records.order_content import OrderContent, PatientFacts
from bedside.records.tables import ImportBatch, Order, Patient, Ward

AT_ONCE = 400
"""Keys in one question; SQLite takes a limited number of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Something that arrived and cannot be true together with what the house knows.

    `order` is the number it arrived with, or empty when it is about the patient with `record_number`.
    """

    column: str
    record_number: str
    value: str
    says: str
    do_next: str
    order: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What became of a file: how many orders and patients were new, known, or new on the ward's list."""

    batch: str | None = None
    new: int = 0
    known: int = 0
    patients_new: int = 0
    patients_changed: int = 0
    nurse_collect: int = 0


def file_is_known(file_hash: str) -> bool:
    """Report whether a file of exactly these bytes was taken in before."""
    return ImportBatch.select().where(ImportBatch.file_hash == file_hash).exists()


# --- does it agree with the house? --------------------------------------------------------------------


def disagreements(orders: Iterable[OrderContent], patients: Iterable[PatientFacts]) -> list[Disagreement]:
    """Everything in a file that contradicts what the house knows. Reads only."""
    patients, orders = list(patients), list(orders)
    people = _by_key(Patient.select(), Patient.record_number, [facts.record_number for facts in patients])
    known = _by_key(Order.select(Order, Patient).join(Patient), Order.number, [order.number for order in orders])
    found = [
        one
        for facts in patients
        if facts.record_number in people
        for one in _another_person(facts, people[facts.record_number])
    ]
    return found + [
        _another_order(order) for order in orders if order.number in known and _content(known[order.number]) != order
    ]


def _another_person(facts: PatientFacts, known: Patient) -> list[Disagreement]:
    ask = "Find out on the ward who this is, then correct the file."
    found = []
    if facts.birth_date.isoformat() != known.birth_date:
        says = f"is not the birth date the house has for record number {facts.record_number}: {known.birth_date}."
        found.append(_about(facts, "birth_date", facts.birth_date.isoformat(), says, ask))
    if facts.name != known.name and not same_name(facts.name, known.name):
        says = f"is not the name the house has for record number {facts.record_number}: {known.name}."
        found.append(_about(facts, "family", facts.name, says, ask))
    return found


def _about(facts: PatientFacts, column: str, value: str, says: str, do_next: str) -> Disagreement:
    return Disagreement(column=column, record_number=facts.record_number, value=value, says=says, do_next=do_next)


def _another_order(order: OrderContent) -> Disagreement:
    return Disagreement(
        column="order",
        record_number=order.record_number,
        value=order.number,
        says="was taken in before with another content, and an order is never changed unseen.",
        do_next="Cancel the old order on the ward's page and send the new one under its own number.",
        order=order.number,
    )


def _content(order: Order) -> OrderContent:
    """A kept order as it once arrived."""
    series = OrderSeries.get_or_none(OrderSeries.order == order.id)
    return OrderContent(
        number=order.number,
        record_number=order.patient.record_number,
        test=order.test,
        priority=order.priority,
        due_from=_moment(order.due_from),
        due_to=_moment(order.due_to),
        note=order.note,
        collect_by=order.collect_by,
        dose_at=_moment_or_none(order.dose_at),
        infusion_end_at=_moment_or_none(order.infusion_end_at),
        specimen=order.specimen,
        after_order=series.after_order if series else "",
        after_at=_moment_or_none(series.after_at) if series else None,
        after_min=series.after_min if series else None,
    )


# --- taking in ----------------------------------------------------------------------------------------


def take_in(
    orders: Sequence[OrderContent],
    patients: Sequence[PatientFacts],
    *,
    file_hash: str,
    file_name: str,
    at: datetime,
    by: str | None,
) -> TakenIn:
    """Keep a checked file. Orders that are known already are left as they are, cancelled ones too.

    Ask `file_is_known` and `disagreements` first, inside the same `writing()`.
    """
    batch = ImportBatch.create(
        id=new_id("b"),
        file_hash=file_hash,
        file_name=file_name,
        rows=len(orders),
        taken_in_at=as_text(at),
        by=by,
    )
    people = _by_key(Patient.select(), Patient.record_number, [facts.record_number for facts in patients])
    known = _by_key(Order.select(Order, Patient).join(Patient), Order.number, [order.number for order in orders])
    changed = [facts for facts in patients if facts.record_number in people and _update(people, facts, at)]
    arrived = [facts for facts in patients if facts.record_number not in people]
    people.update({facts.record_number: _admit(facts) for facts in arrived})
    new = [order for order in orders if order.number not in known]
    order_standing.restate([_keep(order, people[order.record_number], batch, at) for order in new])
    if new or changed:
        a_packet_changed()
    audit.write(who=by or "house", action="orders taken in", object=batch.id, result=f"{len(new)} new", at=at)
    return TakenIn(
        batch=batch.id,
        new=len(new),
        known=len(orders) - len(new),
        patients_new=len(arrived),
        patients_changed=len(changed),
        nurse_collect=sum(order.collect_by == "nurse" for order in new),
    )


def _keep(order: OrderContent, patient: Patient, batch: ImportBatch, at: datetime) -> str:
    """Keep one order and give its id."""
    kept = Order.create(
        id=new_id("o"),
        number=order.number,
        patient=patient,
        test=order.test,
        priority=order.priority,
        due_from=as_text(order.due_from),
        due_to=as_text(order.due_to),
        note=order.note,
        collect_by=order.collect_by,
        dose_at=order.dose_at and as_text(order.dose_at),
        infusion_end_at=order.infusion_end_at and as_text(order.infusion_end_at),
        specimen=order.specimen,
        batch=batch,
        made_at=as_text(at),
    )
    if order.after_min is not None:
        after_at = order.after_at and as_text(order.after_at)
        OrderSeries.insert(
            order=kept.id, after_order=order.after_order, after_at=after_at, after_min=order.after_min
        ).execute()
    return str(kept.id)


def _admit(facts: PatientFacts) -> Patient:
    return Patient.create(
        id=new_id("n"),
        record_number=facts.record_number,
        family=facts.family,
        given=facts.given,
        birth_date=facts.birth_date.isoformat(),
        **_changeable(facts),
    )


def _update(people: dict[str, Patient], facts: PatientFacts, at: datetime) -> bool:
    """Bring a known patient up to what the file says; reports whether anything changed."""
    patient = people[facts.record_number]
    said = {name: value for name, value in _changeable(facts).items() if getattr(patient, name) != value}
    if said:
        patient_facts.change(patient.id, said, at)
    return bool(said)


def _changeable(facts: PatientFacts) -> dict[str, Any]:
    """What may change about a patient, as the table keeps it; what the file says nothing about is left out."""
    said: dict[str, Any] = {
        "sex": facts.sex,
        "ward": _ward(facts.ward),
        "room": facts.room,
        "bed": facts.bed,
        "weight_kg": facts.weight_kg,
        "height_m": facts.height_m,
        "hematocrit_percent": facts.hematocrit_percent,
        "blood_thinner": facts.blood_thinner,
        "latex_allergy": facts.latex_allergy,
        "isolation": facts.isolation,
        "language": facts.language,
    }
    if facts.restrictions is not None:
        said["restrictions"] = [{"side": side, "why": why} for side, why in facts.restrictions]
    kept = {name: value for name, value in said.items() if value is not None}
    return kept if facts.isolation != "" else {**kept, "isolation": None}


def _ward(name: str) -> Ward:
    ward, _ = Ward.get_or_create(name=name, defaults={"id": new_id("w")})
    return ward


def _by_key(query: Any, column: Any, keys: Sequence[str]) -> dict[str, Any]:
    """The rows with these keys, asked for in portions."""
    return {
        getattr(row, column.name): row
        for start in range(0, len(keys), AT_ONCE)
        for row in query.where(column.in_(keys[start : start + AT_ONCE]))
    }


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _moment_or_none(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None
