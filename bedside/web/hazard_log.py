"""The hazard log as a page, for everybody who works by these rules; the safety officer prints and signs it."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, render_template

from bedside.exchange.hazard_file import hazard_log
from bedside.reports.hazards import Hazard
from bedside.web.desk import Desk, desk, request_time

pages = Blueprint("hazard_log", __name__, url_prefix="/safety/hazards")

LOG = "hazard_log.log"


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardsPage:
    """Every hazard, the worst first, and among those of one severity what is not wholly controlled."""

    desk: Desk
    headline: str
    rows: tuple[Hazard, ...]

    @classmethod
    def of(cls, desk: Desk, rows: tuple[Hazard, ...]) -> HazardsPage:
        lacking = sum(not row.built for row in rows)
        return cls(
            desk=desk,
            headline=f"{len(rows)} hazards; {lacking} of them not wholly controlled yet.",
            rows=rows,
        )


@pages.get("")
def log() -> str:
    """The log, with what proves each control."""
    page = HazardsPage.of(desk("Hazard log", request_time(), here=LOG), hazard_log())
    return render_template("hazard_log/log.html", page=page)
