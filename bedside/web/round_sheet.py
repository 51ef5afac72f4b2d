"""A round on paper: what to take along, what the store lacks, and each bed with its tubes, volume and window."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.clinical.volume import anaemia_risk_ratio, expected_fall
from bedside.exchange.orders_in import directory_in_force
from bedside.people.roles import Role
from bedside.records.directory_now import lacking_sentences
from bedside.records.open_rounds import open_rounds
from bedside.records.packet_rows import Carried, VisitCarried
from bedside.records.stock import CountRefused, count_stock
from bedside.records.tables import Round
from bedside.rounds.taking_out import Tools
from bedside.sync.books import book_in_force
from bedside.sync.supplies_told import supplies_told
from bedside.sync.volume_told import volume_told
from bedside.web.container_words import container_name
from bedside.web.counting import many
from bedside.web.desk import Desk, desk, request_time, signed_in, zone
from bedside.web.story import plain
from bedside.web.times import window

pages = Blueprint("round_sheet", __name__, url_prefix="/rounds")


@dataclass(frozen=True, slots=True, kw_only=True)
class BedLine:
    """One bed of the round."""

    position: int
    bed: str
    name: str
    due: str
    tubes: tuple[str, ...]
    total: str
    says: tuple[str, ...]
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One round: its supplies and its beds."""

    name: str
    person: str
    supplies: tuple[dict[str, Any], ...]
    short: tuple[str, ...]
    beds: tuple[BedLine, ...]
    saving: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPage:
    desk: Desk
    sheets: tuple[Sheet, ...]
    wrong: str


@pages.get("/")
def sheets() -> str:
    """The rounds that are out; a phlebotomist sees her own."""
    return _page()


@pages.post("/stock")
def stock() -> Response | tuple[str, int]:
    """Keep what was counted in the store; an empty field stays uncounted."""
    try:
        count_stock(_counts(request.form), by=signed_in().person, at=g.at)
    except CountRefused as refused:
        return _page(str(refused)), 422
    flash("Counted. What is short stands at the top of the sheet.")
    return redirect(url_for("round_sheet.sheets"))


def _counts(form: Mapping[str, str]) -> dict[str, int]:
    said = {name.removeprefix("count:"): text.strip() for name, text in form.items() if name.startswith("count:")}
    filled = {item: text for item, text in said.items() if text}
    wrong = [text for text in filled.values() if not (text.isascii() and text.isdigit())]
    if wrong:
        raise CountRefused(f"{wrong[0]!r} is no whole number. Nothing was kept.")
    return {item: int(text) for item, text in filled.items()}


def _page(wrong: str = "") -> str:
    at = request_time()
    mine = signed_in().person if signed_in().role == Role.PHLEBOTOMIST else None
    tools = Tools(directory=directory_in_force(), book=book_in_force(), zone=zone())
    page = SheetPage(
        desk=desk("Round sheet", at, here="round_sheet.sheets"),
        sheets=tuple(_sheet(out, rows, tools, at) for out, rows in open_rounds(at, mine)),
        wrong=wrong,
    )
    return render_template("round_sheet/sheets.html", page=page)


def _sheet(out: Round, rows: Carried, tools: Tools, at: datetime) -> Sheet:
    supplies = supplies_told(rows.visits, tools.book)
    ahead = [one for one in rows.visits if one.orders and not one.has_begun]
    told = [(one, volume_told(one, tools.directory, tools.book, at)) for one in ahead]
    return Sheet(
        name=out.name,
        person=out.person.name,
        supplies=tuple(supplies),
        short=tuple(f"{line['what']}: {line['short']} short of {line['take']}" for line in supplies if line["short"]),
        beds=tuple(_bed(one, volume, tools, at) for one, volume in told),
        saving=_saving([volume["saving"] for _, volume in told if volume["saving"]]),
    )


def _bed(one: VisitCarried, volume: dict[str, Any], tools: Tools, at: datetime) -> BedLine:
    windows = tools.windows(one.orders).values()
    told = (*volume["adjusted_citrate"], *volume["says"])
    start = max(when.window.earliest for when in windows).astimezone(at.tzinfo)
    end = min(when.window.latest for when in windows).astimezone(at.tzinfo)
    return BedLine(
        position=one.position,
        bed=f"{one.patient.room} {one.patient.bed}".strip(),
        name=one.patient.name,
        due=window(start, end, at),
        tubes=tuple(_tube_words(tube) for tube in one.tubes),
        total=f"{volume['planned_ml']:g} mL",
        says=tuple(says for says in told if says not in volume["saving_says"]),
        findings=(
            *lacking_sentences(tools.directory, (order.test for order in one.orders)),
            *(f"{finding['says']} {finding['do_next']}" for finding in one.plan_findings),
        ),
    )


def _tube_words(tube: Any) -> str:
    care = f" ({', '.join(plain(word) for word in tube.handling)})" if tube.handling else ""
    return f"{container_name(tube.kind)} {tube.draw_ml or 0:g} mL{care}"


def _saving(saved: list[dict[str, Any]]) -> str:
    ml, tubes = (sum(one[name] for one in saved) for name in ("saving_ml", "saving_tubes"))
    if tubes <= 0:
        return ""
    fall = expected_fall(100)
    return (
        f"Against one container for each test this round saves {ml:g} mL and "
        f"{many(tubes, 'container', 'containers')}. On average 100 mL of one patient's blood take "
        f"{fall.haemoglobin_g_per_l:g} g/L of haemoglobin and {fall.hematocrit_points:g} points of haematocrit "
        "(Thavendiranathan 2005, JGIM 20:520-4). After a heart attack each 50 mL more went with "
        f"{anaemia_risk_ratio(50):g} times the risk of anaemia (Salisbury 2011, Arch Intern Med)."
    )
