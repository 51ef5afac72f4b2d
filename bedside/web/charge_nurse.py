"""The charge nurse's desk: the ward now, one patient, and records that found no place."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import datetime
from functools import partial

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.exchange.orders_in import directory_in_force
from bedside.records import (
    asked_orders,
    order_changes,
    patient_changes,
    patients_now,
    sending_again,
    set_aside_now,
    set_aside_settling,
    unplanned_visits,
    ward_now,
)
from bedside.records.database import writing
from bedside.records.directory_now import lacking_sentences, name_of
from bedside.records.finding_reviews import FindingReviewRefused
from bedside.records.moments import as_text
from bedside.records.order_changes import OrderChangeRefused
from bedside.records.patient_changes import PatientChangeRefused
from bedside.records.refused_orders import refused_behind
from bedside.records.sending_again import Window
from bedside.records.unweighed import unweighed
from bedside.rounds.taking_out import Tools
from bedside.sync.books import book_in_force
from bedside.sync.standing import rebuild_visits
from bedside.web import problems
from bedside.web.corridor import Clock
from bedside.web.desk import Desk, Place, desk, request_time, signed_in, zone
from bedside.web.patient_page import PatientPage
from bedside.web.problems import Refusal
from bedside.web.set_aside_page import SetAsidePage
from bedside.web.settling import meanwhile, questions_of, settle_question
from bedside.web.waiting import Meanwhile
from bedside.web.ward_page import WardPage

pages = Blueprint("charge_nurse", __name__, url_prefix="/ward")

REFRESH_S = 30


@pages.get("/")
def ward() -> str:
    """The ward at a glance; `?ward=` chooses another than one's own."""
    at, known = request_time(), ward_now.wards()
    chosen = _chosen(known)
    read = ward_now.read_ward(chosen, at) if chosen else ward_now.NO_WARD
    edge = _desk(_title(read.ward), "ward", subplaces=_other_wards(known, chosen), refresh_s=REFRESH_S)
    names = partial(name_of, directory_in_force())
    page = WardPage.of(edge, read, _meanwhile_on(chosen, at), at, names, book_in_force(), _clock(read.stops))
    return render_template("charge_nurse/ward.html", page=page)


@pages.get("/patients/<patient>")
def patient(patient: str) -> str:
    """One patient, what is asked, what happened, and what can be done."""
    return _patient_page(patient)


@pages.post("/patients/<patient>/orders")
def change_orders(patient: str) -> Response | tuple[str, int]:
    """Hold, release, cancel or flag some of a patient's orders: all of those chosen, or none."""
    chosen = asked_orders.orders_of(patient) & set(request.form.getlist("order"))
    try:
        done = _change_orders(request.form.get("act", ""), chosen, request.form.get("reason", ""))
    except OrderChangeRefused as refused:
        return _patient_page(patient, str(refused)), 422
    flash(done)
    return redirect(url_for("charge_nurse.patient", patient=patient))


@pages.post("/patients/<patient>/arms")
def change_arms(patient: str) -> Response | tuple[str, int]:
    """Close an arm to draws, or open it again."""
    try:
        done = _change_arms(patient, request.form)
    except PatientChangeRefused as refused:
        return _patient_page(patient, str(refused)), 422
    flash(done)
    return redirect(url_for("charge_nurse.patient", patient=patient))


@pages.post("/patients/<patient>/again")
def send_again(patient: str) -> Response | tuple[str, int]:
    """Send what came back without its blood out again, in a new window, for anybody or for one person."""
    chosen = asked_orders.orders_of(patient) & set(request.form.getlist("order"))
    try:
        _send_again(chosen, request.form)
    except OrderChangeRefused as refused:
        return _patient_page(patient, str(refused)), 422
    flash("Sent out again. The next round takes it, and a round that is out takes it with its next packet.")
    return redirect(url_for("charge_nurse.patient", patient=patient))


@pages.post("/patients/<patient>/findings")
def settle_finding(patient: str) -> Response | tuple[str, int]:
    """Settle a question about a visit of this patient, with a note and the decision it asks for."""
    try:
        settle_question(asked_orders.visits_of(patient))
    except FindingReviewRefused as refused:
        return _patient_page(patient, str(refused)), 422
    flash("Settled, with your note.")
    return redirect(url_for("charge_nurse.patient", patient=patient))


@pages.get("/set-aside")
def set_aside() -> str:
    """Every record that could not be placed."""
    return _set_aside_page()


@pages.post("/set-aside/<int:aside>")
def settle(aside: int) -> Response | tuple[str, int]:
    """Note what became of one of them."""
    try:
        set_aside_settling.settle(aside, request.form.get("note", ""), by=signed_in().person, at=g.at)
    except set_aside_settling.SettlingRefused as refused:
        return _set_aside_page(wrong=str(refused)), 422
    flash("Settled, with your note.")
    return redirect(url_for("charge_nurse.set_aside"))


@pages.post("/set-aside/<int:aside>/visit")
def link_visit(aside: int) -> Response | tuple[str, int]:
    """Say at whose bed an unplanned visit was, so that its records count."""
    form = request.form
    try:
        with writing():
            visit = unplanned_visits.link(
                aside, form.get("record_number", ""), form.get("note", ""), by=signed_in().person, at=g.at
            )
            rebuild_visits({visit}, as_text(g.at))
    except unplanned_visits.LinkRefused as refused:
        return _set_aside_page(wrong=str(refused)), 422
    flash("Linked. Its story stands on the patient's page; no order counts as drawn by it until you say so there.")
    return redirect(url_for("charge_nurse.set_aside"))


def _change_orders(act: str, orders: Collection[str], reason: str) -> str:
    """Change every chosen order and judge their visits anew, in one transaction."""
    by, at = signed_in().person, g.at
    acts: dict[str, tuple[Callable[[str], None], str]] = {
        "hold": (lambda order: order_changes.hold(order, reason, by=by, at=at), "Held. No round takes it now."),
        "release": (lambda order: order_changes.release(order, by=by, at=at), "Released. The next round takes it."),
        "cancel": (lambda order: order_changes.cancel(order, reason, by=by, at=at), "Cancelled."),
        "flag": (lambda order: order_changes.flag(order, reason, by=by, at=at), "Noted for the next visit."),
        "unflag": (lambda order: order_changes.unflag(order, by=by, at=at), "The note is taken away."),
    }
    if act not in acts or not orders:
        raise OrderChangeRefused("Choose at least one order first. Nothing was changed.")
    change, done = acts[act]
    with writing():
        for order in sorted(orders):
            change(order)
        rebuild_visits(asked_orders.visits_for(orders), as_text(at))
    return done


def _send_again(orders: Collection[str], form: Mapping[str, str]) -> None:
    if not orders:
        raise OrderChangeRefused("Choose at least one order first. Nothing was sent out again.")
    window = Window(due_from=_moment(form.get("due_from", "")), due_to=_moment(form.get("due_to", "")))
    only_for = form.get("person") or None
    sending_again.send_again(orders, window, only_for, form.get("reason", ""), by=signed_in().person, at=g.at)


def _moment(text: str) -> datetime:
    """A `datetime-local` value as a moment: it is meant in the ward's zone."""
    try:
        return datetime.fromisoformat(text).replace(tzinfo=zone())
    except ValueError:
        raise OrderChangeRefused("Write from when until when, each with its day. Nothing was sent out again.") from None


def _meanwhile_on(ward: str | None, at: datetime) -> list[Meanwhile]:
    return meanwhile(ward_now.recent_visits(ward, at)) if ward else []


def _change_arms(patient: str, form: Mapping[str, str]) -> str:
    """Close or open an arm and judge the patient's visits anew, in one transaction."""
    by, at, side = signed_in().person, g.at, form.get("side", "")
    with writing():
        if form.get("act") == "open":
            patient_changes.open_arm(patient, side, by=by, at=at)
            done = f"The {side} arm is open to draws again."
        else:
            patient_changes.close_arm(patient, side, form.get("why", ""), by=by, at=at)
            done = f"The {side} arm is closed to draws."
        rebuild_visits(asked_orders.visits_of(patient), as_text(at))
    return done


def _patient_page(patient: str, wrong: str = "") -> str:
    at = request_time()
    read = patients_now.read_patient(patient, at)
    if read is None:
        raise Refusal(problems.NOT_FOUND)
    edge = _desk(read.patient.name, "ward")
    typed = request.form.get("reason", "")
    waiting = questions_of(read, at)
    people = [(person.id, person.name) for person in sending_again.collectors()]
    names, clock = partial(name_of, directory_in_force()), _clock(read.stops)
    page = PatientPage.of(edge, read, waiting, people, at, names, clock, wrong, typed)
    return render_template("charge_nurse/patient.html", page=page)


def _clock(stops: Iterable[ward_now.Stop]) -> Clock:
    """The windows of these stops' orders, what the laboratory refused of them, and who has to be weighed first."""
    stops = list(stops)
    ids, book = [order.id for stop in stops for order in stop.orders], book_in_force()
    tools = Tools(directory=directory_in_force(), book=book, zone=zone())
    windows = tools.windows(asked_orders.rows_of(ids))
    lacking = partial(lacking_sentences, tools.directory)
    return Clock(
        windows=windows,
        refused=refused_behind(ids),
        limits=book.limits,
        lacking=lacking,
        unweighed=unweighed({stop.patient for stop in stops}, book, request_time()),
    )


def _set_aside_page(wrong: str = "") -> str:
    at = request_time()
    page = SetAsidePage.of(_desk("Set aside", "set_aside"), set_aside_now.set_aside(), at, wrong)
    return render_template("charge_nurse/set_aside.html", page=page)


def _desk(title: str, here: str, *, subplaces: Sequence[Place] = (), refresh_s: int = 0) -> Desk:
    here = f"charge_nurse.{here}"
    return desk(title, request_time(), here=here, subplaces=subplaces, refresh_s=refresh_s)


def _title(ward: str) -> str:
    return f"Ward {ward} now" if ward else "The ward now"


def _chosen(known: Sequence[tuple[str, str]]) -> str | None:
    """The ward asked for, else one's own, else the first there is."""
    ids = [ward for ward, _ in known]
    wanted = (request.args.get("ward"), signed_in().ward)
    return next((ward for ward in wanted if ward in ids), ids[0] if ids else None)


def _other_wards(known: Sequence[tuple[str, str]], chosen: str | None) -> list[Place]:
    """Links to every ward, where there is more than one."""
    if len(known) < 2:
        return []
    return [
        Place(href=url_for("charge_nurse.ward", ward=ward), says=f"Ward {name}", is_here=ward == chosen)
        for ward, name in known
    ]
