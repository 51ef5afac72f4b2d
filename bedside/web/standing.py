"""How one stop stands, in the charge nurse's words. Pure: a stop as recorded and the time, nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from bedside.records.asked_orders import Asked
from bedside.records.moments import read_moment
from bedside.records.order_standing import BLOOD_DISCARDED
from bedside.records.questions import Question
from bedside.records.ward_now import Stop
from bedside.web.story import incident_words, outcome_words, told_whom

COUNTED = (
    ("in-question", "blood in question"),
    ("late", "late"),
    ("failed", "not obtained"),
    ("refused", "refused"),
    ("partly", "partly collected"),
    ("at-bedside", "at the bedside now"),
    ("carried", "on the way"),
    ("to-come", "pending"),
    ("held", "held"),
    ("nurse", "nurse collect"),
    ("drawn", "collected"),
    ("cancelled", "cancelled"),
)
"""Every state with its word, in the order a charge nurse asks for them."""

WORDS = dict(COUNTED)

OPEN = frozenset({"late", "at-bedside", "carried", "to-come", "held", "nurse"})

NEED_A_PERSON = frozenset(
    {
        "drawn-after-cancel",
        "drawn-twice",
        "it-happened",
        "judgement-differs",
        "identity-missing",
        "identity-too-few",
        "identity-mismatch",
        "band-missing",
        "label-mismatch",
        "label-missing",
        "nobody-told",
        "incident-note-missing",
        "incident-note-incomplete",
    }
)
"""Findings that do not mend themselves in the course of a visit: somebody has to ask, call or decide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A stop's state: a word, when, why, and who knows.

    shown_at: where the visit stands on the time axis: when it happened, or else when it is due.
    """

    state: str
    word: str
    why: str
    told: str
    shown_at: datetime
    due_from: datetime
    due_to: datetime


def standing(stop: Stop, now: datetime) -> Standing:
    """Judge one stop. Late means: the end of the earliest window of what is still open has passed."""
    open_orders = [order for order in stop.orders if order.state in ("pending", "out", "underway", "held")]
    asked = open_orders or list(stop.orders)
    due_to = min(read_moment(order.due_to) for order in asked)
    state = _state(stop, due_to, now)
    happened = stop.ended_at or _latest(order.at for order in stop.orders)
    return Standing(
        state=state,
        word=WORDS[state],
        why=_why(stop, state),
        told=_told(stop.orders) if state in ("failed", "refused", "partly") else "",
        shown_at=due_to if state in OPEN or not happened else read_moment(happened),
        due_from=min(read_moment(order.due_from) for order in asked),
        due_to=due_to,
    )


def needs_a_person(question: Question) -> bool:
    """Report whether a finding waits for somebody; while a visit is under way its stops are its own."""
    found = question.found
    return found.code in NEED_A_PERSON or (found.severity == "stop" and question.ended_at is not None)


def missed(stop: Stop) -> list[Asked]:
    """The orders a visit left without blood, and about which nobody has decided yet."""
    return [order for order in stop.orders if order.state == "not_collected"]


def missed_words(order: Asked) -> str:
    """Why an order was not drawn, in the trade's words; a visit that drew others left this one out."""
    if order.outcome == BLOOD_DISCARDED:
        return "blood discarded, because identity was not settled"
    return "left out at the visit" if order.outcome in (None, "partly", "collected") else outcome_words(order.outcome)


def counts(states: Iterable[str]) -> list[tuple[str, str, int]]:
    """(state, word, how many) for every state that occurs, the pressing ones first."""
    seen = list(states)
    return [(state, word, seen.count(state)) for state, word in COUNTED if state in seen]


def _state(stop: Stop, due_to: datetime, now: datetime) -> str:
    states = {order.state for order in stop.orders}
    settled = states - {"cancelled"}
    if not settled:
        return "cancelled"
    if "underway" in settled:
        return "at-bedside"
    if settled & {"pending", "out"}:
        return _waiting(stop, settled, due_to, now)
    if "in_question" in settled:
        return "in-question"
    if "held" in settled:
        return "held"
    return _ended(stop.orders)


def _waiting(stop: Stop, states: set[str], due_to: datetime, now: datetime) -> str:
    if all(order.collect_by == "nurse" for order in stop.orders if order.state == "pending") and "out" not in states:
        return "nurse"
    if due_to < now:
        return "late"
    return "carried" if "out" in states else "to-come"


def _ended(orders: Sequence[Asked]) -> str:
    collected = [order for order in orders if order.state == "collected"]
    left = [order for order in orders if order.state == "not_collected"]
    if collected and left:
        return "partly"
    if collected:
        return "drawn"
    return "refused" if any(order.outcome == "refused" for order in left) else "failed"


def _why(stop: Stop, state: str) -> str:
    if state in ("failed", "refused", "partly"):
        return _why_missed(stop.orders, state)
    if state == "in-question":
        return "identity was not settled; waits for your decision"
    if state == "held":
        return next((order.hold_reason for order in stop.orders if order.hold_reason), "")
    if state == "cancelled":
        return next((order.cancel_reason for order in stop.orders if order.cancel_reason), "")
    if state in ("late", "carried", "at-bedside") and stop.carrier:
        return f"{stop.carrier} has it" if state != "at-bedside" else stop.carrier
    if state == "late":
        return "nobody has it"
    return ""


def _why_missed(orders: Sequence[Asked], state: str) -> str:
    left = [order for order in orders if order.state == "not_collected"]
    outcome = next((missed_words(order) for order in left), "")
    reason = next((order.reason for order in left if order.reason), "")
    spoken = "" if outcome == WORDS[state] or state == "partly" else outcome
    return "; ".join(part for part in (spoken, reason, "waits for your decision") if part)


def _told(orders: Sequence[Asked]) -> str:
    return next((words for words in (told_whom(order.told) for order in orders) if words), "")


def _latest(times: Iterable[str | None]) -> str | None:
    return max((at for at in times if at), default=None)


def incident_sentence(kinds: Sequence[str]) -> str:
    """Incidents of a stop in words; empty when there were none."""
    return ", ".join(incident_words(kind) for kind in kinds)
