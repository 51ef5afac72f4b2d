"""The safety officer's desk: the incident register with its rates, and one incident to review and close."""

from __future__ import annotations

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.records import incident_reviews, incidents
from bedside.records.finding_reviews import FindingReviewRefused
from bedside.records.incident_reviews import Judgement, ReviewRefused
from bedside.records.serious import serious_findings
from bedside.records.visit_stories import read_story
from bedside.sync.books import book_in_force
from bedside.web import problems
from bedside.web.desk import desk, request_time, signed_in
from bedside.web.problems import Refusal
from bedside.web.safety_pages import Draft, IncidentPage, RegisterPage, title_of
from bedside.web.safety_visit_page import VisitPage
from bedside.web.settling import questions_on, settle_question

pages = Blueprint("safety_officer", __name__, url_prefix="/safety")

REGISTER = "safety_officer.register"
REFRESH_S = 120


@pages.get("/")
def register() -> str:
    """Every incident, unfinished notes first, under the rates."""
    at = request_time()
    edge = desk("Incidents", at, here=REGISTER, refresh_s=REFRESH_S)
    page = RegisterPage.of(
        edge, incidents.register(), incidents.ended_visits(), serious_findings(at), at, book_in_force()
    )
    return render_template("safety_officer/register.html", page=page)


@pages.get("/incidents/<incident>")
def incident(incident: str) -> str:
    """One incident's whole story and its review."""
    return _incident_page(incident)


@pages.post("/incidents/<incident>")
def review(incident: str) -> Response | tuple[str, int]:
    """Add to the review; `close` in the form closes it, too."""
    draft = _draft()
    judgement = Judgement(
        cause=draft.cause,
        action=draft.action,
        harm=draft.harm,
        second_reader=draft.second_reader,
        second_harm=draft.second_harm,
        note=draft.note,
        decided_by=draft.decided_by,
        closes="close" in request.form,
    )
    try:
        incident_reviews.review(incident, judgement, by=signed_in().person, at=g.at)
    except ReviewRefused as refused:
        return _incident_page(incident, draft, str(refused)), 422
    flash("Kept, and closed." if judgement.closes else "Kept.")
    return redirect(url_for("safety_officer.incident", incident=incident))


@pages.post("/incidents/<incident>/reopen")
def reopen(incident: str) -> Response | tuple[str, int]:
    """Open a closed incident again, with a reason."""
    try:
        incident_reviews.reopen(incident, request.form.get("reason", ""), by=signed_in().person, at=g.at)
    except ReviewRefused as refused:
        return _incident_page(incident, wrong=str(refused)), 422
    flash("Open again, with your reason.")
    return redirect(url_for("safety_officer.incident", incident=incident))


@pages.post("/incidents/<incident>/findings")
def settle_finding(incident: str) -> Response | tuple[str, int]:
    """Settle a question about the visit of this incident."""
    case = incidents.find_case(incident)
    try:
        settle_question({case.visit} if case else set())
    except FindingReviewRefused as refused:
        return _incident_page(incident, wrong=str(refused)), 422
    flash("Settled, with your note.")
    return redirect(url_for("safety_officer.incident", incident=incident))


@pages.get("/visits/<visit>")
def visit(visit: str) -> str:
    """One visit that is no incident: its story, and the questions about it."""
    return _visit_page(visit)


@pages.post("/visits/<visit>/findings")
def settle_about_visit(visit: str) -> Response | tuple[str, int]:
    """Settle a question about this visit."""
    try:
        settle_question({visit})
    except FindingReviewRefused as refused:
        return _visit_page(visit, str(refused)), 422
    flash("Settled, with your note.")
    return redirect(url_for("safety_officer.visit", visit=visit))


def _visit_page(visit: str, wrong: str = "") -> str:
    at = request_time()
    story = read_story(visit)
    if story is None:
        raise Refusal(problems.NOT_FOUND)
    edge = desk(story.patient.name, at, here=REGISTER)
    page = VisitPage.of(edge, story, questions_on(story, at), at, wrong)
    return render_template("safety_officer/visit.html", page=page)


def _draft() -> Draft:
    return Draft(**{name: request.form.get(name, "").strip() for name in Draft.__slots__})


def _incident_page(incident: str, draft: Draft | None = None, wrong: str = "") -> str:
    at = request_time()
    case = incidents.find_case(incident)
    if case is None:
        raise Refusal(problems.NOT_FOUND)
    edge = desk(title_of(case), at, here=REGISTER)
    story = read_story(case.visit)
    waiting = questions_on(story, at) if story else ()
    page = IncidentPage.of(edge, case, story, waiting, at, draft, wrong)
    return render_template("safety_officer/incident.html", page=page)
