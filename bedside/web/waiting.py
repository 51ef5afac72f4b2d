"""What waits for a person, as lines of a page: findings nobody settled, draws missed, arms closed meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.records.asked_orders import Asked
from bedside.records.finding_reviews import DECISIONS, RESTRICTED_WHILE_AWAY, Settled
from bedside.records.questions import Question
from bedside.records.ward_now import Stop
from bedside.sync.while_away import WhileAway
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
    """One question with the form that settles it: `decisions` are (value, words), empty where a note is enough."""

    visit: str
    code: str
    event: str
    severity: str
    says: str
    do_next: str
    source: str
    detail: str
    decisions: tuple[tuple[str, str], ...]


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


def asks(questions: Iterable[Question], stops: Iterable[Stop], meanwhile: Iterable[Meanwhile]) -> tuple[Ask, ...]:
    """What waits on a ward, the same thing once with every bed it concerns, stops first."""
    each = [
        *(_of_question(one) for one in questions if needs_a_person(one)),
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
    questions: Iterable[Question], meanwhile: Iterable[Meanwhile], now: datetime, zone: ZoneInfo
) -> tuple[ToSettle, ...]:
    """The questions of one patient or visit, each with its form, stops first."""
    forms = [
        *(_form(one.found.visit or "", one, now, zone) for one in questions if needs_a_person(one)),
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


def _of_question(one: Question) -> Ask:
    found = one.found
    return Ask(
        severity=found.severity,
        says=found.says,
        do_next=_do_next(one),
        source=found.source,
        wheres=(_where(one.patient, one.room, one.bed, one.name),),
    )


def _do_next(one: Question) -> str:
    is_past = one.ended_at is not None and one.found.code not in NEED_A_PERSON
    return VISIT_IS_OVER if is_past else one.found.do_next


def _of_meanwhile(one: Meanwhile) -> Ask:
    where = _where(one.patient, one.room, one.bed, one.name)
    return Ask(severity="ask", says=CLOSED_MEANWHILE, do_next=ASK_WHO_CLOSED, source=OWN_RULE, wheres=(where,))


def _of_missed(stop: Stop) -> Iterable[Ask]:
    where = _where(stop.patient, stop.room, stop.bed, stop.name)
    for words in dict.fromkeys(missed_words(order) for order in missed(stop)):
        yield Ask(severity="ask", says=f"Not drawn: {words}.", do_next=DECIDE, source=OWN_RULE, wheres=(where,))


def _where(patient: str, room: str, bed: str, name: str) -> Where:
    return Where(patient=patient, says=f"{place(room, bed)}, {name}")


def _form(visit: str, one: Question, now: datetime, zone: ZoneInfo) -> ToSettle:
    found = one.found
    return ToSettle(
        visit=visit,
        code=found.code,
        event=found.event or "",
        severity=found.severity,
        says=found.says,
        do_next=_do_next(one),
        source=found.source,
        detail=f"at {shown(local(found.at, zone), now)}" if found.at else "",
        decisions=tuple(DECISIONS.get(found.code, {}).items()),
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
        detail=f"{one.side} arm, closed {closed}, needle in {drawn}",
        decisions=(),
    )
