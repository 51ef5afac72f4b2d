"""What waits for a person, as lines of a page: findings nobody settled, draws missed, arms closed meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from bedside.clinical.rulebook import Rulebook
from bedside.records import identity_decisions
from bedside.records.asked_orders import Asked
from bedside.records.finding_reviews import DECISIONS, RESTRICTED_WHILE_AWAY, Settled
from bedside.records.questions import Found, Question
from bedside.records.ward_now import Stop
from bedside.sync.while_away import WhileAway
from bedside.web.container_words import container_name
from bedside.web.standing import NEED_A_PERSON, missed, missed_words, needs_a_person
from bedside.web.story import plain
from bedside.web.times import local, shown

OWN_RULE = "the app's own rule"

DECIDE = "Decide: send it out again, hold it, or cancel it."

VISIT_IS_OVER = "The visit is over. Read its story, ask who drew, look at the patient, and settle it with a note."
"""What is left to do about a stop of a visit that has ended: what the rules advise is for the bedside."""

CLOSED_MEANWHILE = "Blood was drawn from an arm that was closed while the tablet was away."
ASK_WHO_CLOSED = (
    "Look at the arm, ask whoever closed it whether the blood may be used, and write down what was decided."
)

WHAT = {RESTRICTED_WHILE_AWAY: "an arm closed while the tablet was away"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A bed something waits at: the patient's id, the place and name in words."""

    patient: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """Something that waits for a person: what, where (each patient with their bed), what to do."""

    severity: str
    says: str
    do_next: str
    source: str
    wheres: tuple[Where, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToSettle:
    """One question with the form that settles it: `decisions` are (value, words), empty where a note is enough.

    details: what a person needs to decide, as sentences: when, which specimens, why it went ahead, who brought it.
    names_who: the form asks for the licensed person who decides.
    """

    visit: str
    code: str
    event: str
    severity: str
    says: str
    do_next: str
    source: str
    details: tuple[str, ...]
    decisions: tuple[tuple[str, str], ...]
    names_who: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Meanwhile:
    """An arm closed while a tablet was away, with the patient it was drawn from."""

    patient: str
    name: str
    room: str
    bed: str
    found: WhileAway


def place(room: str, bed: str) -> str:
    """`room 14, bed B`."""
    return ", ".join(part for part in (f"room {room}" if room else "", f"bed {bed}" if bed else "") if part)


def asks(
    questions: Iterable[Question], stops: Iterable[Stop], meanwhile: Iterable[Meanwhile], book: Rulebook
) -> tuple[Ask, ...]:
    """What waits on a ward, the same thing once with every bed it concerns, stops first."""
    each = [
        *(_of_question(one, book) for one in _once_a_visit(questions) if needs_a_person(one)),
        *(_of_meanwhile(one) for one in meanwhile),
        *(ask for stop in stops for ask in _of_missed(stop)),
    ]
    same: dict[tuple[str, str, str, str], list[Where]] = {}
    for one in each:
        beds = same.setdefault((one.severity, one.says, one.do_next, one.source), [])
        beds += [where for where in one.wheres if where not in beds]
    joined = [
        Ask(severity=severity, says=says, do_next=do_next, source=source, wheres=tuple(beds))
        for (severity, says, do_next, source), beds in same.items()
    ]
    return tuple(sorted(joined, key=lambda ask: ask.severity != "stop"))


def to_settle(
    questions: Iterable[Question], meanwhile: Iterable[Meanwhile], now: datetime, zone: ZoneInfo, book: Rulebook
) -> tuple[ToSettle, ...]:
    """The questions of one patient or visit, each with its form, stops first."""
    forms = [
        *(_form(one, now, zone, book) for one in _once_a_visit(questions) if needs_a_person(one)),
        *(_meanwhile_form(one.found, now, zone) for one in meanwhile),
    ]
    return tuple(sorted(forms, key=lambda form: form.severity != "stop"))


def settled_sentence(settled: Settled, now: datetime, zone: ZoneInfo) -> str:
    """`settled 05:40 by Maren Solberg: the blood is discarded. Rang the lab.`"""
    said = ". ".join(part for part in (settled.decides, settled.note) if part)
    return f"settled {shown(local(settled.at, zone), now)} by {settled.by}: {said}"


def what_was_settled(settled: Settled) -> str:
    """What a question was about, where no finding stands any more that would say it."""
    code = settled.key[1]
    return WHAT.get(code) or f"{plain(code)} (found no more)"


def came_back_sentence(orders: Sequence[Asked], now: datetime, zone: ZoneInfo) -> str:
    """`returned: patient unavailable 05:12`, or that a person sent it out again; empty where nothing came back."""
    back = next((order for order in orders if order.came_back), None)
    if back is None:
        return ""
    when = f" {shown(local(back.at, zone), now)}" if back.at else ""
    what = f"{missed_words(back)}{when}"
    if not back.was_sent_again:
        return f"returned: {what}"
    return f"sent out again{f', for {back.only_for}' if back.only_for else ''}, after: {what}"


def _once_a_visit(questions: Iterable[Question]) -> Iterable[Question]:
    """Blood that waits for a decision is one question a visit, however often identity was found unsettled there."""
    asked: set[str | None] = set()
    for one in questions:
        if one.blood and one.found.visit in asked:
            continue
        if one.blood:
            asked.add(one.found.visit)
        yield one


def in_words(found: Found, book: Rulebook, *, is_past: bool) -> tuple[str, str]:
    """What a finding says and what to do next: at the bedside, or at a desk once it is past."""
    afterwards = book.afterwards(found.code) if is_past and found.severity != "note" else None
    if afterwards:
        return afterwards.says, afterwards.do_next
    do_next = VISIT_IS_OVER if is_past and found.code not in NEED_A_PERSON else found.do_next
    return found.says, do_next


def _of_question(one: Question, book: Rulebook) -> Ask:
    found = one.found
    says, do_next = in_words(found, book, is_past=one.is_past)
    if one.blood:
        says = f"{says} {_specimens_sentence(one.blood)}"
    return Ask(
        severity=found.severity,
        says=f"{says} Reason given: {one.reason}" if one.reason else says,
        do_next=do_next,
        source=found.source,
        wheres=(_where(one.patient, one.room, one.bed, one.name),),
    )


def _of_meanwhile(one: Meanwhile) -> Ask:
    where = _where(one.patient, one.room, one.bed, one.name)
    return Ask(severity="ask", says=CLOSED_MEANWHILE, do_next=ASK_WHO_CLOSED, source=OWN_RULE, wheres=(where,))


def _of_missed(stop: Stop) -> Iterable[Ask]:
    where = _where(stop.patient, stop.room, stop.bed, stop.name)
    for words in dict.fromkeys(missed_words(order) for order in missed(stop)):
        yield Ask(severity="ask", says=f"Not drawn: {words}.", do_next=DECIDE, source=OWN_RULE, wheres=(where,))


def _where(patient: str, room: str, bed: str, name: str) -> Where:
    return Where(patient=patient, says=f"{place(room, bed)}, {name}")


def _specimens_sentence(blood: Sequence[Mapping[str, Any]]) -> str:
    """`Specimens in question: 1000000017, 1000000024.`"""
    numbers = [str(tube.get("specimen") or tube["tube"]) for tube in blood]
    return f"{'Specimens' if len(numbers) > 1 else 'Specimen'} in question: {', '.join(numbers)}."


def _details(one: Question, now: datetime, zone: ZoneInfo) -> Iterable[str]:
    if one.found.at:
        yield f"At {shown(local(one.found.at, zone), now)}."
    for tube in one.blood:
        filled = shown(local(tube["filled_at"], zone), now)
        yield f"Specimen {tube.get('specimen') or 'without a number'}, {container_name(tube['kind'])}, filled {filled}."
    for draw in one.draws:
        at = shown(local(draw.at, zone), now)
        yield f"Specimen {draw.specimen}, drawn {at} by {draw.by}, from tablet {draw.tablet}."
    if one.reason:
        yield f"Reason given: {one.reason}"
    if one.brought_by:
        yield f"It came in under the session of {one.brought_by}."


def _form(one: Question, now: datetime, zone: ZoneInfo, book: Rulebook) -> ToSettle:
    found = one.found
    says, do_next = in_words(found, book, is_past=one.is_past)
    words = identity_decisions.WORDS if one.blood else DECISIONS.get(found.code, {})
    return ToSettle(
        visit=found.visit or "",
        code=found.code,
        event=found.event or "",
        severity=found.severity,
        says=says,
        do_next=do_next,
        source=found.source,
        details=tuple(_details(one, now, zone)),
        decisions=tuple(words.items()),
        names_who=bool(one.blood),
    )


def _meanwhile_form(one: WhileAway, now: datetime, zone: ZoneInfo) -> ToSettle:
    closed, drawn = (shown(local(at, zone), now) for at in (one.closed_at, one.drawn_at))
    return ToSettle(
        visit=one.visit,
        code=RESTRICTED_WHILE_AWAY,
        event=one.event,
        severity="ask",
        says=CLOSED_MEANWHILE,
        do_next=ASK_WHO_CLOSED,
        source=OWN_RULE,
        details=(f"{one.side.capitalize()} arm, closed {closed}, needle in {drawn}.",),
        decisions=(),
    )
