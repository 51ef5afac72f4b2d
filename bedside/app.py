"""Wiring: settings in, a Flask app out. Finds the doors in `bedside.web` and stands guard before each."""

from __future__ import annotations

import importlib
import logging
import pkgutil

from flask import Flask, Response, g, redirect, request, url_for
from flask_wtf.csrf import CSRFError, CSRFProtect
from jinja2 import StrictUndefined
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound, RequestEntityTooLarge

from bedside import web
from bedside.people.passwords import Passwords
from bedside.records.database import DatabaseTrouble, connected, could_not_save, db, let_go
from bedside.records.house import house, open_house, read_keys, read_sealing_keys
from bedside.records.moments import now
from bedside.settings import Settings, folder
from bedside.sync.sealing import Opener
from bedside.sync.standing import catch_up
from bedside.web import guard, problems
from bedside.web.headers import add_headers
from bedside.web.packing import pack
from bedside.web.problems import Refusal

LARGEST_BODY = 2 * 1024 * 1024
"""Bytes. Half a morning's events are a tenth of this; a longer queue is sent in parts."""

log = logging.getLogger(__name__)


def create_app(settings: Settings) -> Flask:
    """The app for one house; the house must have been made (`bedside init`).

    `app.config` carries SETTINGS, HOUSE (its id), PASSWORDS and OPENER (of what tablets sealed). No connection is left
    open, so the process may fork afterwards.
    """
    open_house(settings, now())
    with connected():
        catch_up(now())
    app = Flask("bedside", static_folder=str(folder("static")), template_folder=str(folder("templates")))
    app.jinja_env.undefined = StrictUndefined
    _configure(app, settings)
    _stand_guard(app)
    # After the guard: a stranger's form is not even looked at.
    _register_doors(app, CSRFProtect(app))
    _answer_problems(app)
    app.after_request(pack)
    app.after_request(add_headers)
    let_go()
    return app


def _configure(app: Flask, settings: Settings) -> None:
    keys = read_keys(settings.home)
    with connected():
        house_id = house().id
    app.config.update(
        SETTINGS=settings,
        HOUSE=house_id,
        PASSWORDS=Passwords.costing(
            pepper=keys.pepper, passes=settings.password_passes, memory_kib=settings.password_memory_kib
        ),
        OPENER=Opener.of(read_sealing_keys(settings.home)),
        SECRET_KEY=keys.form,
        SESSION_COOKIE_NAME=f"__Host-bedside-form-{guard.short_house(house_id)}",
        SESSION_COOKIE_SECURE=True,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        MAX_CONTENT_LENGTH=LARGEST_BODY,
        WTF_CSRF_TIME_LIMIT=None,
    )


def _register_doors(app: Flask, forms: CSRFProtect) -> None:
    """Wire in every module of `bedside.web` that holds `pages`; the tablet's JSON doors have their
    own check.
    """
    for found in pkgutil.iter_modules(web.__path__):
        pages = getattr(importlib.import_module(f"bedside.web.{found.name}"), "pages", None)
        if pages is not None:
            app.register_blueprint(pages)
            if pages.name == "tablet":
                forms.exempt(pages)


def _stand_guard(app: Flask) -> None:
    @app.before_request
    def open_the_books() -> None:
        g.opened_here = db.connect(reuse_if_open=True)

    @app.teardown_request
    def close_the_books(_: BaseException | None) -> None:
        if g.pop("opened_here", False):
            db.close()

    for check in (guard.find_out_who, guard.refuse_strangers, guard.refuse_forgeries):
        app.before_request(check)


def _answer_problems(app: Flask) -> None:
    app.register_error_handler(Refusal, _refusal)
    app.register_error_handler(CSRFError, lambda _: problems.answer(problems.FORM_STALE))
    app.register_error_handler(RequestEntityTooLarge, lambda _: problems.answer(problems.TOO_LARGE))
    app.register_error_handler(NotFound, lambda _: problems.answer(problems.NOT_FOUND))
    app.register_error_handler(MethodNotAllowed, lambda _: problems.answer(problems.NOT_THAT_WAY))
    app.register_error_handler(DatabaseTrouble, _database_trouble)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(Exception, _broken)


def _refusal(refusal: Refusal) -> Response:
    """A person who only has to sign in is taken there; a tablet is told, and keeps what it has."""
    if refusal.problem is problems.SIGN_IN and not problems.asks_for_json() and request.method == "GET":
        return redirect(url_for("signing_in.sign_in", next=request.path))
    return problems.answer(refusal.problem)


def _database_trouble(error: DatabaseTrouble) -> Response:
    if could_not_save(error):
        log.error("The database could not save: %s", error)
        return problems.answer(problems.STORE_BUSY)
    return _broken(error)


def _refused(error: HTTPException) -> Response:
    """Any other refusal of the framework; redirects pass through as they are."""
    if error.code is None or error.code < 400:
        return error.get_response()
    return problems.answer(problems.refused_with(error.code))


def _broken(error: BaseException) -> Response:
    log.exception("A request broke at %s", request.endpoint, exc_info=error)
    return problems.answer(problems.BROKEN)
