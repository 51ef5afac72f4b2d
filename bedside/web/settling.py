"""Gathering the questions about visits, and settling one: the same for the charge nurse and the safety officer."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime

from flask import g, request

from bedside.records import finding_reviews, order_standing
from bedside.records.database import writing
from bedside.records.finding_reviews import RESTRICTED_WHILE_AWAY, FindingReviewRefused, settled_of
from bedside.records.patients_now import PatientNow
from bedside.records.questions import Question
from bedside.records.tables import Patient
from bedside.records.visit_facts import orders_of
from bedside.records.visit_stories import VisitStory
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


def questions_about(story: VisitStory, at: datetime) -> tuple[ToSettle, ...]:
    """The questions about one visit, each with its form."""
    return _forms((story,), at)


def settle_question(visits: Collection[str]) -> None:
    """Settle the question the form names, if it is about one of these visits.

    Raises FindingReviewRefused when it is not, and whenever `finding_reviews.settle` does.
    """
    form = request.form
    visit = form.get("visit", "")
    if visit not in visits:
        raise FindingReviewRefused("This question is not about a visit of this page. Load the page again.")
    key = (visit, form.get("code", ""), form.get("event") or None)
    with writing():
        finding_reviews.settle(key, form.get("decision", ""), form.get("note", ""), by=signed_in().person, at=g.at)
        order_standing.restate(orders_of({visit}))


def _forms(stories: Collection[VisitStory], at: datetime) -> tuple[ToSettle, ...]:
    asked = [question for story in stories for question in _questions(story)]
    away = meanwhile({story.visit: story.patient for story in stories})
    return to_settle(asked, away, at, zone())


def _questions(story: VisitStory) -> list[Question]:
    who, ended_at = story.patient, story.now.ended_at if story.now else None
    return [
        Question(patient=who.id, name=who.name, room=who.room, bed=who.bed, ended_at=ended_at, found=found)
        for found in story.findings
        if found.settled is None and found.severity != "note"
    ]
