"""Signing in and out, and the way from `/` to where a person belongs."""

from __future__ import annotations

from dataclasses import dataclass

from flask import (
    Blueprint,
    Response,
    current_app,
    g,
    make_response,
    redirect,
    render_template,
    request,
    url_for,
)

from bedside.people import accounts, sessions
from bedside.people.roles import HOME, Role
from bedside.records import audit
from bedside.records.database import writing
from bedside.web.guard import cookie_name, held_token

pages = Blueprint("signing_in", __name__)

CAUTION = (
    "This app supports trained, authorised staff. Local policy, law and the judgement of licensed "
    "practitioners come first. It is not a medical device, and its limits are your site's to set and sign."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInPage:
    """What the sign-in page shows. `said` is the sentence about the last try, or empty."""

    site: str
    caution: str
    next: str
    name: str = ""
    said: str = ""


@pages.get("/")
def home() -> Response:
    """Take people where they belong."""
    if g.person is None:
        return redirect(url_for("signing_in.sign_in"))
    return redirect(HOME[Role(g.person.role)])


@pages.get("/sign-in")
def sign_in() -> str:
    return render_template("signing_in/sign_in.html", page=_page())


@pages.post("/sign-in")
def signed_in() -> Response:
    """Check name and password; the answer to a wrong name and a wrong password is the same."""
    try:
        token = accounts.sign_in(
            name=request.form.get("name", ""),
            password=request.form.get("password", ""),
            address=request.remote_addr or "",
            passwords=current_app.config["PASSWORDS"],
            at=g.at,
            old_token=held_token(),
        )
    except accounts.SignInRefused:
        return _again("The name and the password do not go together. Check both and try again.", 401)
    except accounts.TooManyTries as wait:
        return _wait(wait.wait_s)
    return _with_cookie(redirect(_safe_next() or url_for("signing_in.home")), token)


@pages.post("/sign-out")
def sign_out() -> Response:
    """End the session on the server. What a tablet has saved stays on it: nothing is wiped here."""
    with writing():
        sessions.end(held_token(), "signed out", g.at)
        audit.write(who=g.person.person, action="sign-out", object=g.person.person, at=g.at)
    response = redirect(url_for("signing_in.sign_in"))
    response.delete_cookie(_cookie(), secure=True, httponly=True, samesite="Strict", path="/")
    return response


def _page(said: str = "") -> SignInPage:
    name = request.form.get("name", "")
    site = current_app.config["SETTINGS"].site
    return SignInPage(site=site, caution=CAUTION, next=_safe_next() or "", name=name, said=said)


def _again(said: str, status: int) -> Response:
    return make_response(render_template("signing_in/sign_in.html", page=_page(said)), status)


def _wait(seconds: int) -> Response:
    response = _again(f"Too many tries did not work. Wait {seconds} seconds, then try again.", 429)
    response.headers["Retry-After"] = str(seconds)
    return response


def _safe_next() -> str | None:
    """Where to go afterwards: a path of this app alone, never another site's address."""
    wanted = request.values.get("next", "")
    is_ours = wanted.startswith("/") and not wanted.startswith("//") and "\\" not in wanted
    return wanted if is_ours and wanted.isprintable() else None


def _with_cookie(response: Response, token: str) -> Response:
    response.set_cookie(_cookie(), token, secure=True, httponly=True, samesite="Strict", path="/")
    return response


def _cookie() -> str:
    return cookie_name(current_app.config["HOUSE"])
