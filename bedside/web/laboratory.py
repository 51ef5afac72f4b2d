"""What is on its way to the laboratory, until when it is good, what was handed over, and what was refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.clinical.directory import Directory
from bedside.clinical.good_until import Clock, good_until
from bedside.clinical.refusals import REFUSALS
from bedside.exchange.orders_in import directory_in_force
from bedside.records.directory_now import name_of
from bedside.records.moments import read_moment
from bedside.records.sending_again import Window
from bedside.records.specimens_now import Specimen, specimens_now
from bedside.records.specimens_refused import NotRefused, Refusal, refuse
from bedside.sync.books import book_in_force
from bedside.web.container_words import container_name
from bedside.web.desk import Desk, desk, request_time, signed_in
from bedside.web.story import KEPT_WORDS, told_whom
from bedside.web.times import local, shown, spell, zone_of

pages = Blueprint("laboratory", __name__, url_prefix="/lab")

REFRESH_S = 30
WITHIN = timedelta(hours=4)
"""The window a specimen is collected again in (from memory); a person may send it out in another one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenLine:
    """One container: what it is, where it is, and how long it is good."""

    specimen: str
    kind: str
    tests: str
    name: str
    where: str
    drawn: str
    keep: str
    clocks: tuple[str, ...]
    is_over: bool
    handed_over: str
    refused: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LaboratoryPage:
    desk: Desk
    headline: str
    on_the_way: tuple[SpecimenLine, ...]
    there: tuple[SpecimenLine, ...]
    refused: tuple[SpecimenLine, ...]
    refusable: tuple[SpecimenLine, ...]
    reasons: tuple[tuple[str, str], ...]
    wrong: str


@pages.get("/")
def laboratory() -> str:
    """Every container of the last day; the page counts down by itself."""
    return _page()


@pages.post("/refused")
def refused() -> Response | tuple[str, int]:
    """Write down what the laboratory refused; its orders go out again with the reason."""
    told = Refusal(
        specimen=request.form.get("specimen", "").strip(),
        reason=request.form.get("reason", ""),
        said_by=request.form.get("said_by", ""),
        note=request.form.get("note", ""),
    )
    try:
        numbers = refuse(told, Window(due_from=g.at, due_to=g.at + WITHIN), by=signed_in().person, at=g.at)
    except NotRefused as error:
        return _page(str(error)), 422
    flash(f"Kept. To be collected again: {', '.join(numbers)}. The next packet takes it.")
    return redirect(url_for("laboratory.laboratory"))


def _page(wrong: str = "") -> str:
    at, directory = request_time(), directory_in_force()
    found = specimens_now(at)
    lines = [_line(one, directory, at) for one in found]
    on_the_way = tuple(line for line in lines if not line.handed_over and not line.refused)
    page = LaboratoryPage(
        desk=desk("Laboratory", at, here="laboratory.laboratory", refresh_s=0 if wrong else REFRESH_S),
        headline=_headline(on_the_way),
        on_the_way=on_the_way,
        there=tuple(line for line in lines if line.handed_over and not line.refused),
        refused=tuple(line for line in lines if line.refused),
        refusable=tuple(line for line in lines if not line.refused),
        reasons=tuple(REFUSALS.items()),
        wrong=wrong,
    )
    return render_template("laboratory/laboratory.html", page=page)


def _headline(on_the_way: tuple[SpecimenLine, ...]) -> str:
    over, count = sum(line.is_over for line in on_the_way), len(on_the_way)
    if over:
        return f"{over} of {count} tubes on the way {'is' if over == 1 else 'are'} past a time it was good until."
    if not count:
        return "No tube is on the way."
    return "1 tube is on the way." if count == 1 else f"{count} tubes are on the way."


def _line(one: Specimen, directory: Directory, at: datetime) -> SpecimenLine:
    zone, drawn_at = zone_of(at), read_moment(one.filled_at)
    tests = [test for code in one.tests if (test := directory.find(code))]
    good = good_until(one.kind, tests, one.handling, book_in_force().limits)
    there = read_moment(one.handed_over["at"]) if one.handed_over else None
    return SpecimenLine(
        specimen=one.specimen,
        kind=container_name(one.kind),
        tests=", ".join(name_of(directory, code) for code in one.tests),
        name=one.patient.name,
        where=f"ward {one.patient.ward.name}, {one.patient.room} {one.patient.bed}".strip(),
        drawn=shown(local(one.filled_at, zone), at),
        keep=", ".join(KEPT_WORDS[word] for word in good.keep),
        clocks=tuple(_clock_words(clock, drawn_at, there or at) for clock in good.clocks),
        is_over=there is None and any(_is_over(clock, drawn_at, at) for clock in good.clocks if clock.what != "clot"),
        handed_over=_handed_over(one, good.not_kept(one.handed_over["kept"]), at) if one.handed_over else "",
        refused=_refused(one, at),
    )


def _is_over(clock: Clock, drawn_at: datetime, at: datetime) -> bool:
    by = clock.by(drawn_at)
    return by is not None and at > by


def _clock_words(clock: Clock, drawn_at: datetime, at: datetime) -> str:
    """A clock as it reads now, or as it read when the container was handed over."""
    what = {"in-lab": "in the laboratory", "spin": "spun", "clot": "clotting"}[clock.what]
    by = clock.by(drawn_at)
    if by is None:
        return what
    until = by.astimezone(at.tzinfo) if at.tzinfo else by
    left = f"{spell(by - at)} left" if at <= by else f"over by {spell(at - by)}"
    return f"{what} by {until:%H:%M}, {left}"


def _handed_over(one: Specimen, missing: tuple[str, ...], at: datetime) -> str:
    told = one.handed_over or {}
    to = told_whom(told.get("to"))
    kept = " and ".join(KEPT_WORDS.get(word, word) for word in told.get("kept", ()))
    words = f"{shown(local(told['at'], zone_of(at)), at)}{f' to {to}' if to else ''}{f', kept {kept}' if kept else ''}"
    lacks = " and ".join(KEPT_WORDS[word] for word in missing)
    return f"{words}; should have been {lacks}" if lacks else words


def _refused(one: Specimen, at: datetime) -> str:
    row = one.refused
    if row is None:
        return ""
    note = f" {row.note}" if row.note else ""
    when = shown(local(row.at, zone_of(at)), at)
    again = f" Collected again as {row.again.number}." if row.again else ""
    return f"{REFUSALS.get(row.reason, row.reason)} ({row.reason}), {when}, said {row.said_by}.{note}{again}"
