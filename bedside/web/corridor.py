"""The corridor as lines of a page: one stop, one row, in walking order."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from bedside.clinical.limits import Limit
from bedside.clinical.refusals import REFUSALS
from bedside.clinical.windows import OrderWindow
from bedside.records.asked_orders import Asked
from bedside.records.refused_orders import Refused
from bedside.records.room_order import natural
from bedside.records.ward_now import Stop
from bedside.web.arm_words import WHY_CLOSED
from bedside.web.countdown import Countdown, counting
from bedside.web.order_words import PRIORITY_WORDS, NameOf
from bedside.web.standing import OPEN, Standing, incident_sentence
from bedside.web.story import plain
from bedside.web.times import shown, spell, window, zone_of
from bedside.web.waiting import came_back_sentence

AGAIN = frozenset({"failed", "refused", "partly"})
"""States after which somebody may have to go again, so that closed arms still matter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One stop of the corridor. room is empty when the row above is the same room."""

    room: str
    room_said: str
    bed: str
    patient: str
    name: str
    asked: str
    warnings: str
    due: str
    state: str
    word: str
    when: str
    why: str
    told: str
    flags: tuple[str, ...]
    incidents: str
    counted: tuple[Countdown, ...] = ()
    refused: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    weigh_first: bool = False


def rows(
    judged: Sequence[tuple[Stop, Standing]], now: datetime, name_of: NameOf, clock: Clock | None = None
) -> tuple[Row, ...]:
    """The rows of these stops; `clock` knows their windows and what the laboratory refused."""
    rows, room = [], None
    for stop, stands in judged:
        row = _row(stop, stands, now, name_of, is_same_room=natural(stop.room) == room)
        rows.append(clock.told(row, stop, now, name_of) if clock else row)
        room = natural(stop.room)
    return tuple(rows)


def _row(stop: Stop, stands: Standing, now: datetime, name_of: NameOf, *, is_same_room: bool) -> Row:
    start, end = (at.astimezone(now.tzinfo) for at in (stands.due_from, stands.due_to))
    return Row(
        room="" if is_same_room else stop.room,
        room_said=stop.room,
        bed=stop.bed,
        patient=stop.patient,
        name=stop.name,
        asked=_asked_sentence(stop.orders, name_of),
        warnings=" · ".join(_warnings(stop)) if stands.state in OPEN or stands.state in AGAIN else "",
        due=window(start, end, now),
        state=stands.state,
        word=stands.word,
        when=_when(stands, now),
        why="; ".join(part for part in (came_back_sentence(stop.orders, now, zone_of(now)), stands.why) if part),
        told=stands.told,
        flags=tuple(dict.fromkeys(order.flag_note for order in stop.orders if order.flag_note)),
        incidents=incident_sentence(stop.incidents),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """What a row says beside how its visit stands: its windows as they run, and tubes the laboratory refused.

    lacking: for tests that the directory in force does not hold, a sentence each. unweighed: patients who are not drawn
    until a weight is entered.
    """

    windows: Mapping[str, OrderWindow]
    refused: Mapping[str, Refused]
    limits: Mapping[str, Limit]
    lacking: Callable[[Iterable[str]], Sequence[str]]
    unweighed: Collection[str] = ()

    def told(self, row: Row, stop: Stop, now: datetime, name_of: NameOf) -> Row:
        counted = counting(stop, self.windows, now, self.limits, name_of) if row.state in OPEN else ()
        refused = (refusal_sentence(told, order) for order in stop.orders if (told := self.refused.get(order.id)))
        lacking = self.lacking(order.test for order in stop.orders) if row.state in OPEN else ()
        return replace(
            row,
            counted=counted,
            refused=tuple(dict.fromkeys(refused)),
            lacking=tuple(lacking),
            weigh_first=row.state in OPEN and stop.patient in self.unweighed,
        )


def refusal_sentence(told: Refused, order: Asked) -> str:
    """That the laboratory refused a tube, why, and which order stands for it now."""
    why = f"the laboratory refused tube {told.specimen}: {REFUSALS.get(told.reason, told.reason)} ({told.reason})"
    note = f", {told.note}" if told.note else ""
    if order.number == told.again:
        return f"collect again as {told.again}: {why}{note}"
    return f"{why}{note}; {f'to be collected again as {told.again}' if told.again else 'nobody wants it again'}"


def _when(stands: Standing, now: datetime) -> str:
    if stands.state == "late":
        return f"since {shown(stands.due_to.astimezone(now.tzinfo), now)}, {spell(now - stands.due_to)}"
    if stands.state in OPEN:
        return ""
    return shown(stands.shown_at.astimezone(now.tzinfo), now)


def _asked_sentence(orders: Sequence[Asked], name_of: NameOf) -> str:
    """Tests by name, each once; the most pressing priority in front."""
    names = list(dict.fromkeys(name_of(order.test) for order in orders))
    priorities = {order.priority for order in orders}
    pressing = next((word for key, word in PRIORITY_WORDS.items() if word and key in priorities), "")
    return f"{pressing}: {', '.join(names)}" if pressing else ", ".join(names)


def _warnings(stop: Stop) -> list[str]:
    return [
        *(
            f"{rule.get('side')} arm closed, {WHY_CLOSED.get(rule.get('why', ''), 'closed')}"
            for rule in stop.restrictions
        ),
        *(["blood thinner"] if stop.blood_thinner else []),
        *([f"{plain(stop.isolation)} precautions"] if stop.isolation else []),
    ]
