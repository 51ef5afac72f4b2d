"""Asked before every request: who is it, may they open this door, and does the request come from this app."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import current_app, g, request

from bedside.people import sessions
from bedside.people.roles import TABLET, may_open
from bedside.people.tablets import Request, is_signed
from bedside.records.moments import now
from bedside.web import problems
from bedside.web.problems import Refusal

MARK = "X-Bedside"
SIGNED_AS, SIGNATURE = "X-Bedside-Tablet", "X-Bedside-Signature"
"""Which enrolled tablet sends a request, and its signature of it."""

REFRESH = "refresh"
"""The query mark of a page that looks again by itself."""

READING = frozenset({"GET", "HEAD", "OPTIONS"})


def cookie_name(house: str) -> str:
    """The session cookie of one house: cookies know no ports, and two houses may share a machine."""
    return f"__Host-bedside-{short_house(house)}"


def short_house(house: str) -> str:
    """The first eight characters of the house's random part."""
    return house.removeprefix("h-")[:8]


def held_token() -> str | None:
    """The session token this browser sent, if any."""
    return request.cookies.get(cookie_name(current_app.config["HOUSE"]))


def find_out_who() -> None:
    """Put the signed-in person (or None) into `g.person`, and the tablet that signed (or None) into `g.tablet`."""
    g.at = now()
    g.tablet = signing_tablet()
    g.person = sessions.who(held_token(), g.at, is_there=not looks_again_by_itself())


def signing_tablet() -> str | None:
    """The enrolled tablet whose signature this request carries; None without one, or with one that does not hold."""
    tablet = request.headers.get(SIGNED_AS)
    if tablet is None or not problems.asks_for_json():
        return None
    asked = Request(method=request.method, path=request.path, body=request.get_data())
    return tablet if is_signed(asked, tablet, request.headers.get(SIGNATURE, "")) else None


def looks_again_by_itself() -> bool:
    """Report whether a page asks for itself again, with nobody at it: only reading can, never a form."""
    return request.method in READING and request.args.get(REFRESH) == "1"


def refuse_strangers() -> None:
    """Let only those in whom the table of roles names.

    Raises Refusal: 401 when signing in would help, 403 when it would not, 404 for a path that is no door.
    """
    if request.endpoint is None:
        return
    role = g.person.role if g.person else ""
    if may_open(role, request.endpoint) or (g.tablet and may_open(TABLET, request.endpoint)):
        return
    raise Refusal(problems.NOT_FOR_YOU if g.person else problems.SIGN_IN)


def refuse_forgeries() -> None:
    """On the tablet's JSON doors, take only what this app's own page sent.

    Raises Refusal: 403 for another site or a missing mark, 415 for a body that is not JSON.
    """
    if not problems.asks_for_json():
        return
    if request.headers.get(MARK) != "1" or not _is_same_site():
        raise Refusal(problems.NOT_OURS)
    if request.method not in READING and request.mimetype != "application/json":
        raise Refusal(problems.NOT_JSON)


def _is_same_site() -> bool:
    """Report whether the browser says the request is ours; a client that says nothing is no browser."""
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None and site != "same-origin":
        return False
    origin = request.headers.get("Origin")
    return origin is None or urlsplit(origin).netloc == request.host
