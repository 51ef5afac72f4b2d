"""The rulebook's desk: the rule sheet, changing a limit, signing a change, and every edition there was."""

from __future__ import annotations

from datetime import timedelta

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import TextAreaField

from bedside.clinical.rulebook import Rulebook
from bedside.people.roles import FIRST_SIGNATURE, SECOND_SIGNATURE
from bedside.records import rulebooks
from bedside.records.rulebooks import Proposed
from bedside.records.visit_facts import beds_of
from bedside.reports.what_if import WhatIf, what_if
from bedside.sync import signing
from bedside.sync.books import book_in_force, next_edition
from bedside.sync.past_visits import past_visits
from bedside.sync.signing import SigningRefused
from bedside.web import problems
from bedside.web.desk import Desk, Place, desk, request_time, signed_in
from bedside.web.problems import Refusal
from bedside.web.rulebook_change_page import ChangePage
from bedside.web.rulebook_editions import EditionsPage
from bedside.web.rulebook_proposals import LOOK_BACK_DAYS, ProposalsPage, proposal_page
from bedside.web.rulebook_sheet import SheetPage

pages = Blueprint("rulebook", __name__, url_prefix="/house/rulebook")


class ChangeForm(FlaskForm):
    """Why the limits should change; the limits themselves are named by the rulebook."""

    reason = TextAreaField("Reason")


@pages.get("")
def sheet() -> str:
    """The rule sheet of the book in force."""
    book = book_in_force()
    page = SheetPage.of(
        _desk("sheet"),
        book,
        rulebooks.find_edition(book.hash),
        sum(one.is_open for one in rulebooks.proposals()),
        request_time(),
        may_propose=signed_in().role in FIRST_SIGNATURE,
    )
    return render_template("rulebook/sheet.html", page=page)


@pages.get("/change")
def change() -> str:
    """The form for a change."""
    page = ChangePage.of(_desk("change"), ChangeForm(), book_in_force(), {})
    return render_template("rulebook/change.html", page=page)


@pages.post("/change")
def propose() -> Response | tuple[str, int]:
    """Keep a proposal; nothing changes until it is signed."""
    form, book = ChangeForm(), book_in_force()
    typed = {name: request.form[name].strip() for name in book.limits if name in request.form}
    try:
        wanted = {name: _number(name, text) for name, text in typed.items() if text != f"{book.value(name):g}"}
        made = signing.propose_change(wanted, form.reason.data or "", by=signed_in().person, at=g.at)
    except SigningRefused as refused:
        page = ChangePage.of(_desk("change"), form, book, typed, (str(refused),))
        return render_template("rulebook/change.html", page=page), 422
    return redirect(url_for("rulebook.proposal", proposal=made))


@pages.get("/proposals")
def proposals() -> str:
    """Every proposal, those that wait first."""
    page = ProposalsPage.of(_desk("proposals"), rulebooks.proposals(), request_time())
    return render_template("rulebook/proposals.html", page=page)


@pages.get("/proposals/<int:proposal>")
def proposal(proposal: int) -> str:
    """One proposal, and what it would have done to last month's visits."""
    return _proposal_page(_found(proposal))


@pages.post("/proposals/<int:proposal>/sign")
def sign(proposal: int) -> Response | tuple[str, int]:
    """Put this person's signature to a proposal; with the last one it rules."""
    proposed, me = _found(proposal), signed_in()
    try:
        made = signing.sign(proposal, by=me.person, role=me.role, at=g.at)
    except SigningRefused as refused:
        return _proposal_page(proposed, str(refused)), 422
    flash(f"Signed. Edition {made} is in force." if made else "Signed. Another person's signature is still to come.")
    return redirect(url_for("rulebook.proposal", proposal=proposal))


@pages.post("/proposals/<int:proposal>/withdraw")
def withdraw(proposal: int) -> Response | tuple[str, int]:
    """Take a proposal off the table."""
    proposed = _found(proposal)
    try:
        signing.withdraw(proposal, by=signed_in().person, at=g.at)
    except SigningRefused as refused:
        return _proposal_page(proposed, str(refused)), 422
    flash("Withdrawn. The rulebook stays as it is.")
    return redirect(url_for("rulebook.proposals"))


@pages.get("/editions")
def editions() -> str:
    """Every edition, and the difference between two of them."""
    kept = rulebooks.editions()
    old, new = request.args.get("old", ""), request.args.get("new", "")
    page = EditionsPage.of(_desk("editions"), kept, old, new, request_time())
    return render_template("rulebook/editions.html", page=page)


def _found(proposal: int) -> Proposed:
    found = rulebooks.find_proposal(proposal)
    if found is None:
        raise Refusal(problems.NOT_FOUND)
    return found


def _proposal_page(proposed: Proposed, refused: str = "") -> str:
    me, today = signed_in(), book_in_force()
    weighed = signing.weighed_now(proposed)
    would_be = next_edition(proposed.changes, g.at)
    past = _looked_back(today, would_be) if proposed.is_open else None
    page = proposal_page(
        _desk("proposals"),
        proposed,
        weighed,
        (today, would_be),
        past,
        beds_of({one.visit for shift in past.shifts for one in shift.examples}) if past else {},
        request_time(),
        why_not=signing.why_not_sign(proposed, weighed, by=me.person, role=me.role),
        may_withdraw=me.role in FIRST_SIGNATURE,
        refused=refused,
    )
    return render_template("rulebook/proposal.html", page=page)


def _looked_back(today: Rulebook, would_be: Rulebook) -> WhatIf:
    return what_if(past_visits(g.at - timedelta(days=LOOK_BACK_DAYS)), today, would_be)


def _number(name: str, text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise SigningRefused(
            f"{name}: {text!r} is no number. Write it in figures, with a point if it is not whole."
        ) from None


def _desk(here: str) -> Desk:
    """The rulebook's own places beneath the desk's head: only those this reader may open."""
    role = signed_in().role
    places = [("sheet", "Rule sheet"), ("editions", "Editions")]
    places += [("proposals", "Proposals")] if role in SECOND_SIGNATURE else []
    places += [("change", "Change a limit")] if role in FIRST_SIGNATURE else []
    return desk(
        "Rulebook",
        request_time(),
        here="rulebook.sheet",
        subplaces=[Place(href=url_for(f"rulebook.{at}"), says=says, is_here=at == here) for at, says in places],
    )
