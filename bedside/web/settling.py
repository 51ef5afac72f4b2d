"""Gathering the questions about visits, and settling one: the same for the charge nurse and the safety officer."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime

from flask import g, request

from bedside.records import finding_reviews, identity_decisions
from bedside.records.database import writing
from bedside.records.finding_reviews import RESTRICTED_WHILE_AWAY, FindingReviewRefused, settled_of
from bedside.records.moments import as_text
from bedside.records.patients_now import PatientNow
from bedside.records.questions import Question, questions_about
from bedside.records.tables import Patient
from bedside.records.visit_stories import VisitStory
from bedside.sync.books import book_in_force
from bedside.sync.standing import rebuild_visits
from bedside.sync.while_away import drawn_while_away
from bedside.web.desk import signed_in, zone
from bedside.web.waiting import Meanwhile, ToSettle, to_settle


def meanwhile(visits: Mapping[str, Patient]) -> list[Meanwhile]:
    """Draws of these visits from an arm closed while the tablet was away, as long as nobody settled them."""
    found = drawn_while_away(visits)
    settled = settled_of({one.visit for one in found})
    return [
        Meanwhile(patient=who.id, name=who.name, room=who.room, bed=who.bed, found=one)
        for one in found
        if (one.visit, RESTRICTED_WHILE_AWAY, one.event) not in settled and (who := visits[one.visit])
    ]


def questions_of(read: PatientNow, at: datetime) -> tuple[ToSettle, ...]:
    """The questions about one patient's visits, each with its form."""
    return _forms(read.stories, at)


def questions_on(story: VisitStory, at: datetime) -> tuple[ToSettle, ...]:
    """The questions about one visit, each with its form."""
    return _forms((story,), at)


def settle_question(visits: Collection[str]) -> None:
    """Settle the question the form names, if it is about one of these visits.

    Where blood waits for a decision, the decision settles every question about identity of that visit at once.

    Raises FindingReviewRefused when it is not, and whenever the settling or the decision is refused.
    """
    form = request.form
    visit = form.get("visit", "")
    if visit not in visits:
        raise FindingReviewRefused("This question is not about a visit of this page. Load the page again.")
    key = (visit, form.get("code", ""), form.get("event") or None)
    decision, note, by = form.get("decision", ""), form.get("note", ""), signed_in().person
    with writing():
        if key in identity_decisions.open_stops(visit):
            _decide(visit, decision, form.get("who", ""), note, by)
        else:
            finding_reviews.settle(key, decision, note, by=by, at=g.at)
        rebuild_visits({visit}, as_text(g.at))


def _decide(visit: str, decision: str, who: str, note: str, by: str) -> None:
    try:
        identity_decisions.decide(visit, decision, who, note, by=by, at=g.at)
    except identity_decisions.DecisionRefused as refused:
        raise FindingReviewRefused(str(refused)) from refused


def _forms(stories: Collection[VisitStory], at: datetime) -> tuple[ToSettle, ...]:
    asked = [question for story in stories for question in _questions(story)]
    away = meanwhile({story.visit: story.patient for story in stories})
    return to_settle(asked, away, at, zone(), book_in_force())


def _questions(story: VisitStory) -> tuple[Question, ...]:
    open_ones = [found for found in story.findings if found.settled is None and found.severity != "note"]
    return questions_about([(story.patient, found) for found in open_ones])
