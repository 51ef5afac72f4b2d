"""The ward's page as data: a headline, counts, the strip of the shift, what waits, the corridor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from bedside.clinical.rulebook import Rulebook
from bedside.records.carriers import Carrier
from bedside.records.ward_now import Stop, WardNow
from bedside.web.corridor import Clock, Row, rows
from bedside.web.countdown import in_its_window
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.morning_strip import Moment, Strip, draw
from bedside.web.order_words import NameOf
from bedside.web.standing import OPEN, Standing, counts, standing
from bedside.web.times import ago, local, shown, zone_of
from bedside.web.waiting import Ask, Meanwhile, asks, place

EMPTY = "Orders are taken in at the house's desk. This page looks again by itself."


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    state: str
    word: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WardPage:
    """The ward at a glance."""

    desk: Desk
    headline: str
    lead: str
    counts: tuple[Count, ...]
    carriers: tuple[str, ...]
    strip: Strip | None
    strip_says: str
    asks: tuple[Ask, ...]
    unplaced: str
    rows: tuple[Row, ...]

    @classmethod
    def of(
        cls,
        desk: Desk,
        ward: WardNow,
        meanwhile: Sequence[Meanwhile],
        now: datetime,
        name_of: NameOf,
        book: Rulebook,
        clock: Clock,
    ) -> WardPage:
        zone = zone_of(now)
        stops = [in_its_window(stop, clock.windows) for stop in ward.stops]
        judged = [(stop, standing(stop, now)) for stop in stops]
        waiting = asks(ward.questions, ward.stops, meanwhile, book)
        counted = counts(stands.state for _, stands in judged)
        return cls(
            desk=desk,
            lead="" if ward.stops else EMPTY,
            headline=headline(counted, sum(len(ask.wheres) for ask in waiting), ward.unplaced),
            counts=tuple(Count(state=state, word=word, number=number) for state, word, number in counted),
            carriers=tuple(carrier_sentence(carrier, now, zone) for carrier in ward.carriers),
            strip=draw([_moment(stop, stands, now) for stop, stands in judged if _is_on_strip(stands)], now),
            strip_says=", ".join(f"{number} {word}" for _, word, number in counted),
            asks=waiting,
            unplaced=unplaced_sentence(ward.unplaced),
            rows=rows(judged, now, name_of, clock),
        )


def headline(counted: Sequence[tuple[str, str, int]], waiting: int, unplaced: int) -> str:
    """The one sentence at the top: what needs the charge nurse first."""
    number = {state: many for state, _, many in counted}
    pressing = []
    if number.get("late"):
        pressing.append(f"{many(number['late'], 'draw is', 'draws are')} late")
    if waiting + unplaced:
        pressing.append(f"{many(waiting + unplaced, 'question waits', 'questions wait')} for you")
    if pressing:
        return sentence(", ".join(pressing))
    to_come = sum(number.get(state, 0) for state in OPEN)
    if to_come:
        return sentence(f"{many(to_come, 'draw is', 'draws are')} still to come, none late")
    return "Every draw of this shift is settled." if counted else "No draws are asked for on this ward."


def carrier_sentence(carrier: Carrier, now: datetime, zone: ZoneInfo) -> str:
    """Who is out, with how much, and since when nothing was heard."""
    left = many(carrier.visits_left, "visit", "visits") if carrier.visits_left else "no visit"
    heard = "tablet not heard yet"
    if carrier.last_heard_at:
        at = local(carrier.last_heard_at, zone)
        heard = f"tablet last heard {shown(at, now)}, {ago(at, now)}"
    return f"{carrier.name} is out since {shown(local(carrier.taken_at, zone), now)}, {left} to go; {heard}."


def unplaced_sentence(number: int) -> str:
    """Say how many records found no place; empty when all did."""
    if not number:
        return ""
    return sentence(f"{many(number, 'record', 'records')} could not be placed")


def _is_on_strip(stands: Standing) -> bool:
    return stands.state != "cancelled"


def _moment(stop: Stop, stands: Standing, now: datetime) -> Moment:
    at = stands.shown_at.astimezone(now.tzinfo)
    return Moment(
        at=at,
        state=stands.state,
        says=f"{place(stop.room, stop.bed)}, {stop.name}: {stands.word}, {shown(at, now)}",
    )
