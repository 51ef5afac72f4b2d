"""The safety officer's pages as data: the register with its rates, and one incident's whole story."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.clinical.rulebook import Rulebook, default_book
from bedside.records.incident_reviews import HARM, HARM_SAYS
from bedside.records.incidents import Case, EndedVisit, Review, Strike, urgency
from bedside.records.serious import Serious
from bedside.records.visit_stories import VisitStory
from bedside.sync.books import book_in_force
from bedside.web.counting import listed, many, sentence
from bedside.web.desk import Desk
from bedside.web.retelling import Retold, retell
from bedside.web.safety_rates import CHANCES_MIN, ChartOrReason, Rate, incidents_chart, overall, rates
from bedside.web.serious_rows import SeriousRow, serious_row
from bedside.web.story import incident_words, plain, told_whom
from bedside.web.times import local, shown, zone_of
from bedside.web.waiting import ToSettle, place

STATES = ("note unfinished", "to review", "closed")

REVIEW_WORDS = {
    "cause": "Cause",
    "action": "Action taken",
    "harm": "Harm, as judged",
    "second_reading": "Second reading",
    "decided_by": "Decided by",
    "note": "Note",
    "closed": "Closed",
    "reopened": "Opened again",
}


STRUCK_WORDS = {
    "opening": "Struck",
    "note": "Its note was struck",
    "identity": "No longer found since a correction",
}

AFTER_CLOSING = "A note, or a correction, came after this incident was closed. Read it, and close it again."


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterRow:
    """One incident in the register."""

    id: str
    kind: str
    when: str
    patient: str
    where: str
    at_bedside: str
    harm: str
    state: str
    struck: str
    is_closed: bool
    is_unfinished: bool
    opened_by_itself: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterPage:
    """Every incident, unfinished notes first, what went ahead all the same, and the rates."""

    desk: Desk
    headline: str
    overall: str
    rows: tuple[RegisterRow, ...]
    struck: str
    serious: tuple[SeriousRow, ...]
    rates: tuple[Rate, ...]
    chances_min: int
    chart: ChartOrReason

    @classmethod
    def of(
        cls,
        desk: Desk,
        cases: Sequence[Case],
        visits: Sequence[EndedVisit],
        serious: Sequence[Serious],
        now: datetime,
        book: Rulebook,
    ) -> RegisterPage:
        zone = zone_of(now)
        return cls(
            desk=desk,
            headline=register_headline([urgency(case) for case in cases if not case.is_struck]),
            overall=overall(visits, now),
            rows=tuple(_register_row(case, now, zone) for case in cases),
            struck=struck_sentence([case for case in cases if case.is_struck]),
            serious=tuple(serious_row(one, now, zone, book) for one in serious),
            rates=rates(visits, now),
            chances_min=CHANCES_MIN,
            chart=incidents_chart(visits, now, zone),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One word to choose, with what it means."""

    value: str
    says: str
    means: str
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    at: str
    by: str
    says: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What stands in the review form: what was typed last when it was refused, else the latest review."""

    cause: str = ""
    action: str = ""
    harm: str = ""
    second_reader: str = ""
    second_harm: str = ""
    note: str = ""
    decided_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class IncidentPage:
    """One incident: what, its whole story, what was done and who was told, and its review."""

    desk: Desk
    id: str
    title: str
    lead: str
    state: str
    is_closed: bool
    missing: str
    strikes: tuple[str, ...]
    came_after: str
    facts: tuple[tuple[str, str], ...]
    steps: tuple[str, ...]
    expected: tuple[str, ...]
    expected_source: str
    note: str
    story: Retold | None
    cause: str
    action: str
    harms: tuple[Choice, ...]
    second_harms: tuple[Choice, ...]
    second_reader: str
    remark: str
    decided_by: str
    readings: str
    history: tuple[HistoryLine, ...]
    to_settle: tuple[ToSettle, ...]
    wrong: str

    @classmethod
    def of(
        cls,
        desk: Desk,
        case: Case,
        story: VisitStory | None,
        waiting: tuple[ToSettle, ...],
        now: datetime,
        draft: Draft | None = None,
        wrong: str = "",
    ) -> IncidentPage:
        zone = zone_of(now)
        draft = draft or latest(case)
        book = default_book()
        aid = book.first_aid.get(case.kind)
        return cls(
            desk=desk,
            id=case.id,
            title=title_of(case),
            lead=f"{case.patient}, ward {case.ward}, {place(case.room, case.bed)} · "
            f"{shown(local(case.happened_at, zone), now)} · recorded by {case.by}",
            state=state_of(case),
            is_closed=case.is_closed,
            missing=missing_of(case),
            strikes=tuple(strike_sentence(one, now, zone) for one in case.strikes),
            came_after=AFTER_CLOSING if case.came_after_closing else "",
            facts=tuple(_facts(case, now, zone)),
            steps=case.steps,
            expected=book.first_steps(case.kind) if aid else (),
            expected_source=aid.source if aid else "",
            note=case.note,
            story=retell(story, now, zone, book_in_force()) if story else None,
            cause=draft.cause,
            action=draft.action,
            harms=choices(draft.harm),
            second_harms=choices(draft.second_harm),
            second_reader=draft.second_reader,
            remark=draft.note,
            decided_by=draft.decided_by,
            readings=_readings(case),
            history=tuple(_history_line(review, now, zone) for review in case.reviewed.history),
            to_settle=waiting,
            wrong=wrong,
        )


def latest(case: Case) -> Draft:
    """The form as the latest review left it; a second reading is typed anew each time."""
    reviewed = case.reviewed
    return Draft(cause=reviewed.cause, action=reviewed.action, harm=reviewed.harm, decided_by=reviewed.decided_by)


def choices(chosen: str) -> tuple[Choice, ...]:
    """The harm scale (AE-15), most serious first."""
    return tuple(
        Choice(value=value, says=says, means=HARM_SAYS[value], is_chosen=value == chosen)
        for value, says in HARM.items()
    )


def title_of(case: Case) -> str:
    """`Faint` or `Wrong patient, opened by the app`."""
    kind = incident_words(case.kind)
    return f"{kind[0].upper()}{kind[1:]}{', opened by the app' if case.by_itself else ''}"


def missing_of(case: Case) -> str:
    """What the bedside note still lacks, as a sentence; empty when nothing does."""
    if case.is_complete or case.is_struck:
        return ""
    lacking = [
        word
        for word, there in (
            ("what was done", case.steps),
            ("who was told", told_whom(case.told)),
            ("a note", case.note),
        )
        if not there
    ]
    missing = f"{listed(lacking)} {'are' if len(lacking) > 1 else 'is'} missing" if lacking else "its time is missing"
    return f"The bedside note is unfinished: {missing}. Ask {case.by} to finish it."


def state_of(case: Case) -> str:
    """How far its review is; what was struck, and what came after closing, is said."""
    if case.came_after_closing:
        return "to review again: word came after closing"
    state = STATES[urgency(case)]
    return f"struck at the bedside, {state}" if case.is_struck else state


def strike_sentence(one: Strike, now: datetime, zone: ZoneInfo) -> str:
    """`Struck by Ines Baptista, 05:12: wrong button. It had said: "…"`"""
    what = STRUCK_WORDS.get(one.what, plain(one.what))
    reason = one.reason or "no reason given"
    said = f" It had said: “{one.note}”" if one.note else ""
    return f"{what} by {one.by}, {shown(local(one.at, zone), now)}: {reason}.{said}"


def struck_sentence(cases: Sequence[Case]) -> str:
    """How many were struck at the bedside, counted apart from the others; empty where none was."""
    if not cases:
        return ""
    waiting = sum(1 for case in cases if not case.is_closed)
    rest = f", {waiting} to review" if waiting else ", none to review"
    said = many(len(cases), "incident was struck at the bedside", "incidents were struck at the bedside")
    return sentence(f"{said}{rest}") + " They count for no rate and stay in the register."


def register_headline(urgencies: Sequence[int]) -> str:
    """What waits for the safety officer, in one sentence."""
    unfinished, to_review = urgencies.count(0), urgencies.count(1)
    if not urgencies:
        return "No incident has been recorded."
    parts = []
    if unfinished:
        parts.append(many(unfinished, "note is unfinished", "notes are unfinished"))
    if to_review:
        parts.append(many(to_review, "incident is to review", "incidents are to review"))
    return sentence(", ".join(parts)) if parts else "Every incident is reviewed and closed."


def _register_row(case: Case, now: datetime, zone: ZoneInfo) -> RegisterRow:
    urgent = urgency(case)
    struck = next((strike_sentence(one, now, zone) for one in case.strikes), "") if case.is_struck else ""
    return RegisterRow(
        id=case.id,
        kind=title_of(case),
        when=shown(local(case.happened_at, zone), now),
        patient=case.patient,
        where=f"ward {case.ward}, {place(case.room, case.bed)}",
        at_bedside=plain(case.severity),
        harm=HARM.get(case.reviewed.harm, ""),
        state=state_of(case),
        struck=struck,
        is_closed=urgent == 2,
        is_unfinished=urgent == 0,
        opened_by_itself=case.by_itself,
    )


def _facts(case: Case, now: datetime, zone: ZoneInfo) -> list[tuple[str, str]]:
    told = case.told if isinstance(case.told, dict) else {}
    told_at = shown(local(told["at"], zone), now) if told.get("at") else ""
    whom = told_whom(case.told)
    return [
        ("Severity, as noted at the bedside", plain(case.severity)),
        ("Told", f"{whom}{f', {told_at}' if told_at else ''}" if whom else "nobody named"),
        ("Record number", case.record_number),
    ]


def _readings(case: Case) -> str:
    """Both readings of the harm, and what to do when they part."""
    first, second = case.reviewed.harm, case.reviewed.second_reading
    if not first:
        return ""
    if not second:
        return f"One reading so far: {HARM.get(first, first)}. A second reader makes it firmer."
    reader, _, word = second.rpartition(": ")
    agree = "They agree." if word == first else "They differ: in doubt between two, take the higher (AE-18)."
    return f"Read as {HARM.get(first, first)}, and by {reader} as {HARM.get(word, word)}. {agree}"


def _history_line(review: Review, now: datetime, zone: ZoneInfo) -> HistoryLine:
    text = review.text
    if review.kind == "harm":
        text = HARM.get(text, text)
    if review.kind == "second_reading":
        reader, _, word = text.rpartition(": ")
        text = f"{reader}: {HARM.get(word, word)}"
    return HistoryLine(
        at=shown(local(review.at, zone), now),
        by=review.by,
        says=REVIEW_WORDS.get(review.kind, plain(review.kind)),
        text=text,
    )
