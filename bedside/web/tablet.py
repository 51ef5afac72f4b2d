"""The tablet's doors: the shell page, which holds no patient data, and the JSON doors behind it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, current_app, g, jsonify, render_template, request

from bedside.clinical.strict_json import mark_repeats
from bedside.people import sessions, tablets
from bedside.people.tablets import EnrolmentRefused, TooManyCodes
from bedside.records import tablets as tablet_use
from bedside.records.claims import let_go, names_of
from bedside.records.database import writing
from bedside.records.house import former_ids, house
from bedside.records.moments import as_text, read_moment
from bedside.rounds import claims
from bedside.rounds.claims import Asked, BedUnknown
from bedside.rounds.handing_back import take_back
from bedside.sync import packet as packets
from bedside.sync.receive import receive
from bedside.sync.wire import Batch, BatchUnreadable, read_batch
from bedside.web import problems
from bedside.web.guard import held_token
from bedside.web.problems import Refusal

pages = Blueprint("tablet", __name__, url_prefix="/tablet")

MOST_EVENTS = 2000
"""In one request; a tablet sends 50. More would keep the write lock from everybody else."""

LONGEST_HOLDER = 100
"""Characters of a tablet's own name that are taken."""

MOST_DIGITS = 9
"""Of a number of events: no tablet saves a thousand million."""


@pages.get("/")
def shell() -> str:
    """The page the service worker keeps: the same for everybody, signed in or not."""
    return render_template("tablet/shell.html")


@pages.get("/hello")
def hello() -> Response:
    """Who is signed in (null: an enrolled tablet asks by itself), which house, what revision, what time it is here."""
    person = g.person and {"id": g.person.person, "name": g.person.name, "role": g.person.role}
    return jsonify(
        house=current_app.config["HOUSE"],
        formerly=former_ids(),
        revision=house().revision,
        now=as_text(g.at),
        person=person,
        fresh_sign_in=g.person is not None and sessions.is_fresh(g.person, g.at),
        sealing=current_app.config["OPENER"].keys[0].as_json(),
        revoked=g.tablet is not None and tablet_use.is_out_of_use(g.tablet),
        site=current_app.config["SETTINGS"].site,
        zone=current_app.config["SETTINGS"].zone,
    )


@pages.get("/packet")
def packet() -> Response:
    """The signed-in person's packet; takes a round out when they have none.

    `?tablet=` names the local store, so that no other tablet gets the same spare numbers.
    """
    holder = _holder()
    if tablet_use.is_out_of_use(g.tablet or holder):
        raise Refusal(problems.OUT_OF_USE)
    body = packets.fetch(
        g.person.person,
        ward=g.person.ward,
        holder=holder,
        is_enrolled=g.tablet is not None and g.tablet == holder,
        settings=current_app.config["SETTINGS"],
        at=g.at,
    )
    return Response(body, content_type="application/json")


@pages.post("/events")
def events() -> Response:
    """Take events in; one answer for each, whatever became of the others."""
    batch = _batch()
    person = g.person and g.person.person
    opener = current_app.config["OPENER"]
    return jsonify(receive(batch, person=person, at=g.at, opener=opener, signed_by=g.tablet))


@pages.post("/claim")
def claim() -> Response:
    """A tablet goes to a bed: answers who is there already, or null when the bed is its own now.

    The claim of a tablet that is not heard from for a while lapses. It refuses no event.
    """
    visit, named, by = _asked("visit", "tablet", "by")
    asked = Asked(visit=visit, tablet=g.tablet or named, by=by or None)
    try:
        with writing():
            held = claims.claim(asked, g.at)
    except BedUnknown as error:
        raise Refusal(problems.UNREADABLE) from error
    is_own = held.tablet == asked.tablet
    name = names_of([held.tablet]).get(held.tablet)
    told = None if is_own else {"at": held.at, "by": held.by, "tablet": name, "until": held.until}
    return jsonify(house=house().id, visit=visit, elsewhere=told)


@pages.post("/leave")
def leave() -> Response:
    """A tablet went away from a bed where nothing was begun: whoever comes next is not asked."""
    visit, named = _asked("visit", "tablet")
    with writing():
        let_go(visit, g.tablet or named)
    return jsonify(house=house().id, visit=visit)


@pages.post("/enrol")
def enrol() -> Response:
    """Enrol a tablet: the code from the house's screen, the name the tablet gave itself, and its public key."""
    asked = _asked("code", "tablet", "key")
    try:
        name = tablets.enrol(*asked, address=request.remote_addr or "", at=g.at)
    except TooManyCodes as wait:
        raise Refusal(replace(problems.WAIT_FOR_CODES, retry_after_s=wait.wait_s)) from wait
    except EnrolmentRefused as refused:
        raise Refusal(replace(problems.NOT_ENROLLED, detail=str(refused))) from refused
    return jsonify(house=house().id, name=name, sealing=current_app.config["OPENER"].keys[0].as_json())


@pages.post("/hand-back")
def hand_back() -> Response:
    """The tablet carries no patients any more; it says how many events it still holds. Nobody stays signed in on it.

    Answers what became of each round it carried: closed, or what still hangs on it.
    """
    unsent = _number(*_asked("unsent"))
    with writing():
        sessions.end(held_token(), "tablet handed back", g.at)
        rounds = take_back(g.tablet, unsent, g.at)
    told = [{"name": each.name, "closed": each.is_closed, "hangs_on": list(each.hangs_on)} for each in rounds]
    return jsonify(house=house().id, rounds=told)


@pages.post("/pins-used-up")
def pins_used_up() -> Response:
    """The tenth wrong PIN wiped somebody's round from this tablet; it says whose, and when by its own clock.

    Nobody stays signed in on it: whoever tried the PINs must not choose a new one.
    """
    person, happened_at = _asked("person", "at")
    when = _moment(happened_at)
    with writing():
        sessions.end(held_token(), "ten wrong PINs", g.at)
        tablet_use.note_pins_used_up(g.tablet, person, when, g.at)
    return jsonify(house=house().id)


def _number(text: str) -> int:
    """A count somebody sent. Raises Refusal."""
    if not (text.isdecimal() and text.isascii() and len(text) <= MOST_DIGITS):
        raise Refusal(problems.UNREADABLE)
    return int(text)


def _moment(text: str) -> datetime:
    """A time somebody sent. Raises Refusal."""
    try:
        return read_moment(text)
    except ValueError as error:
        raise Refusal(problems.UNREADABLE) from error


def _asked(*names: str) -> list[str]:
    """The named texts of a request. Raises Refusal when it is no object."""
    try:
        raw = _json()
    except BatchUnreadable as error:
        raise Refusal(problems.UNREADABLE) from error
    if not isinstance(raw, dict):
        raise Refusal(problems.UNREADABLE)
    return [str(raw.get(name, "")) for name in names]


def _batch() -> Batch:
    """The request's batch. Raises Refusal: unreadable, another house's, too many at once."""
    try:
        batch = read_batch(_json())
    except BatchUnreadable as error:
        raise Refusal(problems.UNREADABLE) from error
    if batch.house is not None and batch.house != current_app.config["HOUSE"]:
        raise Refusal(problems.OTHER_HOUSE)
    if len(batch.items) > MOST_EVENTS:
        raise Refusal(problems.TOO_LARGE)
    return batch


def _json() -> Any:
    """The body's JSON, whatever it is; an object with a key twice is none. Raises BatchUnreadable for no JSON."""
    try:
        return json.loads(request.get_data(), object_pairs_hook=mark_repeats)
    except (ValueError, RecursionError) as error:
        raise BatchUnreadable(str(error)) from error


def _holder() -> str:
    named = request.args.get("tablet", "")
    usable = 0 < len(named) <= LONGEST_HOLDER and named.isprintable()
    return named if usable else f"session-{g.person.session}"
