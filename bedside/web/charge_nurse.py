"""The charge nurse's desk: the ward now, one patient, and records that found no place."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.exchange.orders_in import directory_in_force
from bedside.records import set_aside_settling, ward_now
from bedside.records.directory_now import name_of
from bedside.web import problems
from bedside.web.desk import Desk, Place, desk, request_time, signed_in
from bedside.web.problems import Refusal
from bedside.web.ward_pages import PatientPage, SetAsidePage, WardPage

pages = Blueprint("charge_nurse", __name__, url_prefix="/ward")

REFRESH_S = 30


@pages.get("/")
def ward() -> str:
    """The ward at a glance; `?ward=` chooses another than one's own."""
    at, known = request_time(), ward_now.wards()
    chosen = _chosen(known)
    read = ward_now.read_ward(chosen, at) if chosen else ward_now.NO_WARD
    edge = _desk(_title(read.ward), "ward", subplaces=_other_wards(known, chosen), refresh_s=REFRESH_S)
    page = WardPage.of(edge, read, at, partial(name_of, directory_in_force()))
    return render_template("charge_nurse/ward.html", page=page)


@pages.get("/patients/<patient>")
def patient(patient: str) -> str:
    """One patient, what is asked, what happened, and what can be done."""
    return _patient_page(patient)


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


def _patient_page(patient: str, wrong: str = "") -> str:
    at = request_time()
    read = ward_now.read_patient(patient, at)
    if read is None:
        raise Refusal(problems.NOT_FOUND)
    edge = _desk(read.patient.name, "ward")
    page = PatientPage.of(edge, read, at, partial(name_of, directory_in_force()), wrong)
    return render_template("charge_nurse/patient.html", page=page)


def _set_aside_page(wrong: str = "") -> str:
    at = request_time()
    page = SetAsidePage.of(_desk("Set aside", "set_aside"), ward_now.set_aside(), at, wrong)
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
