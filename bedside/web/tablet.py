"""The tablet's doors: the shell page, which holds no patient data, and the JSON doors behind it."""

from __future__ import annotations

import json
from typing import Any

from flask import Blueprint, Response, current_app, g, jsonify, render_template, request

from bedside.records.house import former_ids, house
from bedside.records.moments import as_text
from bedside.sync import packet as packets
from bedside.sync.receive import receive
from bedside.sync.wire import Batch, BatchUnreadable, read_batch
from bedside.web import problems
from bedside.web.problems import Refusal

pages = Blueprint("tablet", __name__, url_prefix="/tablet")

MOST_EVENTS = 2000
"""In one request; a tablet sends 50. More would keep the write lock from everybody else."""

LONGEST_HOLDER = 100
"""Characters of a tablet's own name that are taken."""


@pages.get("/")
def shell() -> str:
    """The page the service worker keeps: the same for everybody, signed in or not."""
    return render_template("tablet/shell.html")


@pages.get("/hello")
def hello() -> Response:
    """Who is signed in, which house, what revision, what time it is here."""
    return jsonify(
        house=current_app.config["HOUSE"],
        formerly=former_ids(),
        revision=house().revision,
        now=as_text(g.at),
        person={"id": g.person.person, "name": g.person.name, "role": g.person.role},
        site=current_app.config["SETTINGS"].site,
        zone=current_app.config["SETTINGS"].zone,
    )


@pages.get("/packet")
def packet() -> Response:
    """The signed-in person's packet; takes a round out when they have none.

    `?tablet=` names the local store, so that no other tablet gets the same spare numbers.
    """
    body = packets.fetch(
        g.person.person,
        ward=g.person.ward,
        holder=_holder(),
        settings=current_app.config["SETTINGS"],
        at=g.at,
    )
    return Response(body, content_type="application/json")


@pages.post("/events")
def events() -> Response:
    """Take events in; one answer for each, whatever became of the others."""
    batch = _batch()
    return jsonify(receive(batch, person=g.person.person, at=g.at))


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
    """The body's JSON, whatever it is. Raises BatchUnreadable for what is none."""
    try:
        return json.loads(request.get_data())
    except (ValueError, RecursionError) as error:
        raise BatchUnreadable(str(error)) from error


def _holder() -> str:
    named = request.args.get("tablet", "")
    usable = 0 < len(named) <= LONGEST_HOLDER and named.isprintable()
    return named if usable else f"session-{g.person.session}"
