"""What every desk page carries round its edge: where it is, who sits there, as of when, and the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from flask import current_app, g, request, url_for

from bedside.people.roles import Role
from bedside.people.sessions import SignedIn
from bedside.settings import Settings
from bedside.web.guard import REFRESH

CAUTION = (
    "Bedside supports trained, authorised staff. Local policy, law and the judgement of licensed "
    "practitioners come first. It is not a medical device."
)


SHARED = (("house.directory", "Test directory"), ("rulebook.sheet", "Rulebook"))

PLACES: dict[Role, tuple[tuple[str, str], ...]] = {
    Role.PHLEBOTOMIST: (("tablet.shell", "The round"), ("round_sheet.sheets", "Round sheet"), *SHARED),
    Role.CHARGE_NURSE: (
        ("charge_nurse.ward", "The ward now"),
        ("timed.timed", "Timed draws"),
        ("blood.blood", "Blood volume"),
        ("laboratory.laboratory", "Laboratory"),
        ("round_sheet.sheets", "Round sheet"),
        ("charge_nurse.set_aside", "Set aside"),
        *SHARED,
    ),
    Role.SAFETY_OFFICER: (("safety_officer.register", "Incidents"), ("hazard_log.log", "Hazards"), *SHARED),
    Role.KEEPER: (
        ("house.orders", "Orders"),
        ("house.people", "People"),
        ("house.tablets", "Tablets"),
        ("laboratory.laboratory", "Laboratory"),
        ("round_sheet.sheets", "Round sheet"),
        *SHARED,
        ("house.audit", "Audit"),
    ),
}
"""Where each role can go from its desk: (endpoint, words). Who may open what is decided in `people/roles.py`."""

PRACTICE = "Practice ward: the people, patients and orders are invented."


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A link in a desk's head."""

    href: str
    says: str
    is_here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """The edge of one page. refresh_s: after how many seconds the page fetches itself again, 0 for never."""

    title: str
    site: str
    who: str
    as_of: str
    places: tuple[Place, ...]
    subplaces: tuple[Place, ...]
    refresh_s: int
    refresh_href: str
    practice_mode: tuple[str, ...]
    caution: str
    sign_out_href: str


def _looking_again() -> str:
    """The address of this very page, marked so that looking again by itself does not count as being there."""
    asked = {name: value for name, value in request.args.items() if name != REFRESH}
    return f"{request.path}?{urlencode({**asked, REFRESH: '1'})}"


def settings() -> Settings:
    """The house's settings, as the app was made with them."""
    found: Settings = current_app.config["SETTINGS"]
    return found


def signed_in() -> SignedIn:
    """Who sits at this desk; the app lets nobody in who is not signed in."""
    found: SignedIn = g.person
    return found


def request_time() -> datetime:
    """When this request came, in the ward's zone: one moment for the whole page."""
    at: datetime = g.at
    return at.astimezone(zone())


def zone() -> ZoneInfo:
    """The zone the ward's clocks show."""
    return ZoneInfo(settings().zone)


def desk(
    title: str,
    at: datetime,
    *,
    here: str,
    subplaces: Sequence[Place] = (),
    refresh_s: int = 0,
) -> Desk:
    """Put the edge together; `here` is the endpoint of the place the page belongs to."""
    return Desk(
        title=title,
        site=settings().site,
        who=signed_in().name,
        as_of=f"{at:%H:%M}",
        places=tuple(
            Place(href=url_for(endpoint), says=says, is_here=endpoint == here)
            for endpoint, says in PLACES[Role(signed_in().role)]
        ),
        subplaces=tuple(subplaces),
        refresh_s=refresh_s,
        refresh_href=_looking_again(),
        practice_mode=("Practice ward: the people, patients and orders are invented.",) if settings().demo else (),
        caution=CAUTION,
        sign_out_href=url_for("signing_in.sign_out"),
    )
