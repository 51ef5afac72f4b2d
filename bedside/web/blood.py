"""The charge nurse's page on blood: who has no weight, who would give too much, and a word that allows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.clinical.bad_input import BadInput
from bedside.clinical.fitting import WHO_MAY_ALLOW, fit
from bedside.clinical.tube_request import TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.clinical.volume import allowance
from bedside.exchange.orders_in import directory_in_force
from bedside.records.blood_drawn import NOTHING, Drawn, drawn_from
from bedside.records.patient_measures import MeasureRefused, set_measures
from bedside.records.volumes_allowed import Allowed, NotAllowed, allow, allowed_now
from bedside.records.waiting_patients import WaitingPatient, waiting_patients
from bedside.rounds.packing import natural
from bedside.rounds.planning import needle_for
from bedside.rounds.taking_out import Tools, measures, pressing
from bedside.sync.books import book_in_force
from bedside.web.desk import Desk, desk, request_time, signed_in, zone

pages = Blueprint("blood", __name__, url_prefix="/ward/blood")


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodLine:
    """One patient: how much blood, how much given, what may be drawn now, what waits."""

    patient: str
    name: str
    where: str
    weight: str
    height: str
    blood: str
    reckoned: str
    given: str
    limit: str
    planned: str
    waits: str
    whole_ml: str
    is_stopped: bool
    allowed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodPage:
    """Everybody with orders that wait: those who need a person first."""

    desk: Desk
    headline: str
    unweighed: tuple[BloodLine, ...]
    over: tuple[BloodLine, ...]
    others: tuple[BloodLine, ...]
    may_allow: str
    wrong: str


@pages.get("/")
def blood() -> str:
    """Weights that are missing, draws over the limit, and everybody else's sums."""
    return _page()


@pages.post("/<patient>/measures")
def measure(patient: str) -> Response | tuple[str, int]:
    """Enter a weight, and a height where it is known."""
    try:
        weight, height = _number(request.form, "weight_kg"), _number(request.form, "height_m")
        if weight is None:
            raise MeasureRefused("Write the weight in kg, with a point, like 12.4. Nothing was kept.")
        set_measures(patient, weight, height, by=signed_in().person, at=g.at)
    except MeasureRefused as refused:
        return _page(str(refused)), 422
    flash("Kept. The next packet plans with it.")
    return redirect(url_for("blood.blood"))


@pages.post("/<patient>/allow")
def allow_draw(patient: str) -> Response | tuple[str, int]:
    """Write down that somebody allowed a draw above the limit, and why."""
    try:
        ml = _number(request.form, "ml")
        said = (request.form.get("allowed_by", ""), request.form.get("reason", ""))
        allow(patient, 0.0 if ml is None else ml, *said, by=signed_in().person, at=g.at)
    except (NotAllowed, MeasureRefused) as refused:
        return _page(str(refused)), 422
    flash("Allowed for this shift. The next packet plans with it.")
    return redirect(url_for("blood.blood"))


def _number(form: Mapping[str, str], name: str) -> float | None:
    text = form.get(name, "").strip().replace(",", ".")
    try:
        return float(text) if text else None
    except ValueError:
        raise MeasureRefused(f"{text!r} is no number. Write it like 12.4. Nothing was kept.") from None


def _page(wrong: str = "") -> str:
    at = request_time()
    waiting = sorted(waiting_patients(None, at), key=_bed)
    ids = [one.patient.id for one in waiting]
    drawn, allowed = drawn_from(ids, at), allowed_now(ids, at)
    tools = Tools(directory=directory_in_force(), book=book_in_force(), zone=zone())
    lines = [_line(one, drawn.get(one.patient.id, NOTHING), allowed.get(one.patient.id), tools, at) for one in waiting]
    unweighed = tuple(line for line in lines if not line.weight)
    over = tuple(line for line in lines if line.weight and line.waits)
    page = BloodPage(
        desk=desk("Blood volume", at, here="blood.blood"),
        headline=_headline(unweighed, over),
        unweighed=tuple(sorted(unweighed, key=lambda line: not line.is_stopped)),
        over=over,
        others=tuple(line for line in lines if line.weight and not line.waits),
        may_allow=WHO_MAY_ALLOW,
        wrong=wrong,
    )
    return render_template("blood/blood.html", page=page)


def _bed(one: WaitingPatient) -> tuple[object, ...]:
    patient = one.patient
    return natural(patient.ward.name), natural(patient.room), natural(patient.bed), patient.id


def _headline(unweighed: tuple[BloodLine, ...], over: tuple[BloodLine, ...]) -> str:
    stopped = sum(line.is_stopped for line in unweighed)
    said = []
    if stopped:
        said.append(f"{stopped} {'child is' if stopped == 1 else 'children are'} not drawn before a weight is entered")
    if over:
        said.append(f"{len(over)} {'patient' if len(over) == 1 else 'patients'} would give more than the limit")
    return f"{'; '.join(said)}." if said else "Nobody waits for a weight or would give too much."


def _line(one: WaitingPatient, drawn: Drawn, word: Allowed | None, tools: Tools, at: datetime) -> BloodLine:
    patient, given = one.patient, drawn.given()
    asked = measures(patient, given, word)
    may = allowance(asked.body_on(at.date()), given, tools.book.limits, tools.book.volumes)
    known = tuple(code for code in pressing(one.orders) if tools.directory.find(code))
    needle = needle_for(date.fromisoformat(patient.birth_date), tools.book, at)
    request_ = TubeRequest(patient=asked, tests=known, now=at, needle=needle)
    try:
        fitted = fit(request_, pressing(one.orders), tools.directory, tools.book)
        planned, waits, limit = fitted.plan.total_ml, fitted.waits, fitted.plan.limit_ml
    except BadInput:
        planned, waits, limit = 0.0, (), may.left_ml
    names = [test.name for code in waits if (test := tools.directory.find(code))]
    return BloodLine(
        patient=patient.id,
        name=patient.name,
        where=f"ward {patient.ward.name}, {patient.room} {patient.bed}".strip(),
        weight="" if patient.weight_kg is None else f"{patient.weight_kg:g} kg",
        height="" if patient.height_m is None else f"{patient.height_m:g} m",
        blood="" if may.blood_ml is None else f"{may.blood_ml:.0f} mL",
        reckoned=may.reckoned,
        given=f"{given.day_ml:g} mL in 24 h, {given.within_eight_weeks():g} mL in 8 weeks",
        limit="no limit" if limit is None else f"{limit:g} mL",
        planned=f"{planned:g} mL",
        waits=", ".join(names),
        whole_ml=_whole_ml(request_, tools) if names else "",
        is_stopped=patient.weight_kg is None and limit == 0,
        allowed="" if word is None else f"{word.left_ml:g} mL left, allowed by {word.allowed_by}: {word.reason}",
    )


def _whole_ml(asked: TubeRequest, tools: Tools) -> str:
    """What all of it together would take: the volume the form offers."""
    return f"{plan_tubes(asked, tools.directory, tools.book).total_ml:g}"
