"""The tablet's doors: the shell page, which holds no patient data, and the JSON doors behind it."""

from __future__ import annotations

from flask import Blueprint, Response, current_app, g, jsonify, render_template

from bedside.records.house import house
from bedside.records.moments import as_text

pages = Blueprint("tablet", __name__, url_prefix="/tablet")


@pages.get("/")
def shell() -> str:
    """The page the service worker keeps: the same for everybody, signed in or not."""
    return render_template("tablet/shell.html")


@pages.get("/hello")
def hello() -> Response:
    """Who is signed in, which house, what revision, what time it is here."""
    return jsonify(
        house=current_app.config["HOUSE"],
        revision=house().revision,
        now=as_text(g.at),
        person={"id": g.person.person, "name": g.person.name, "role": g.person.role},
        site=current_app.config["SETTINGS"].site,
        zone=current_app.config["SETTINGS"].zone,
    )
