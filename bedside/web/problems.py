"""What is said when something does not work: to people a page in three parts, to tablets RFC 9457 JSON."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

from flask import Response, render_template, request

API = "/tablet/"
SHELL = "/tablet/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something the app cannot do now: what happened, why it matters, what to do."""

    status: int
    code: str
    title: str
    detail: str
    do_next: str
    retry_after_s: int | None = None


class Refusal(Exception):
    """Ends a request with a problem as its answer; a transaction that is open is rolled back on the way."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.title)
        self.problem = problem


SIGN_IN = Problem(
    status=401,
    code="sign-in",
    title="Nobody is signed in.",
    detail="The house must know who is asking before it shows or takes anything.",
    do_next="Sign in. What this tablet has saved stays saved and is sent afterwards.",
)
NOT_FOR_YOU = Problem(
    status=403,
    code="not-for-this-role",
    title="This is not open to your role.",
    detail="Each role sees what its work needs, so that patients' data stay with those who care for them.",
    do_next="Go back, or ask the keeper of the house if your role is wrong.",
)
NOT_OURS = Problem(
    status=403,
    code="not-from-this-app",
    title="The request did not come from this app.",
    detail="Another site may be trying to act in your name, so nothing was done.",
    do_next="Open the app again from its own address.",
)
NOT_JSON = Problem(
    status=415,
    code="not-json",
    title="The request is not JSON.",
    detail="Only application/json is read here; nothing was taken in.",
    do_next="Send it again as application/json.",
)
UNREADABLE = Problem(
    status=400,
    code="unreadable",
    title="The request cannot be read.",
    detail="Its shape is not the agreed one, so its events could not be told apart. Nothing was taken.",
    do_next="Keep the events on the tablet and update the app.",
)
OTHER_HOUSE = Problem(
    status=409,
    code="other-house",
    title="These events belong to another house.",
    detail="They were recorded for another database; taking them in here would mix up patients.",
    do_next="Export them on the tablet and hand them to the keeper of the house they belong to.",
)
TOO_LARGE = Problem(
    status=413,
    code="too-large",
    title="Too much was sent at once.",
    detail="At most 2 MiB are read in one go, so nothing was taken in.",
    do_next="Send half of it at a time.",
)
NOT_ENROLLED = Problem(
    status=422,
    code="not-enrolled",
    title="This tablet is not enrolled.",
    detail="Only enrolled tablets are known to be the house's own. Nothing was changed.",
    do_next="Ask for a new code at the house and type it again.",
)
WAIT_FOR_CODES = Problem(
    status=429,
    code="too-many-codes",
    title="Too many codes were wrong.",
    detail="Somebody may be guessing, so no code is taken for a short while.",
    do_next="Wait a minute, then type the code again.",
    retry_after_s=60,
)
OUT_OF_USE = Problem(
    status=403,
    code="tablet-out-of-use",
    title="This tablet was taken out of use.",
    detail="It gets no patients any more. What it still holds unsent is sent and set aside for a person.",
    do_next="Take another tablet, and bring this one to the keeper of the house.",
)
NOT_FOUND = Problem(
    status=404,
    code="not-found",
    title="There is no such page.",
    detail="It may have moved, or the address has a slip in it.",
    do_next="Go back to the start page.",
)
NOT_THAT_WAY = Problem(
    status=405,
    code="not-that-way",
    title="This cannot be asked for in that way.",
    detail="The address exists, but not for this kind of request.",
    do_next="Go back to the start page.",
)
FORM_STALE = Problem(
    status=400,
    code="form-stale",
    title="The form was not taken.",
    detail="It belongs to an earlier sign-in, so it might be forged. Nothing was changed.",
    do_next="Load the page again and repeat what you did.",
)
STORE_BUSY = Problem(
    status=503,
    code="cannot-save",
    title="The house cannot save just now.",
    detail="Its database is busy, full or read-only. This request was not kept; nothing saved was lost.",
    do_next="Keep what you have; the tablet tries again by itself. If it lasts, call the keeper.",
    retry_after_s=5,
)
BROKEN = Problem(
    status=500,
    code="broken",
    title="Something in the app broke.",
    detail="Nothing of this request was kept. What was saved before is safe.",
    do_next="Try again. If it happens again, tell the keeper of the house the time it happened.",
)
REFUSED = Problem(
    status=400,
    code="refused",
    title="The request was refused.",
    detail="The server could not make sense of it. Nothing was changed.",
    do_next="Go back and try again.",
)


def asks_for_json() -> bool:
    """Report whether the request came to a JSON door of the tablet (the shell page itself is for people)."""
    return request.path.startswith(API) and request.path != SHELL


def answer(problem: Problem) -> Response:
    """The answer for whoever asked: problem+json for the tablet, a plain page for people."""
    response = as_json(problem) if asks_for_json() else as_page(problem)
    if problem.retry_after_s is not None:
        response.headers["Retry-After"] = str(problem.retry_after_s)
    return response


def as_json(problem: Problem) -> Response:
    """RFC 9457, with our code and what to do next."""
    body = {
        "type": f"urn:bedside:problem:{problem.code}",
        "title": problem.title,
        "status": problem.status,
        "detail": problem.detail,
        "code": problem.code,
        "do_next": problem.do_next,
    }
    text = json.dumps(body, ensure_ascii=False)
    return Response(text, status=problem.status, content_type="application/problem+json")


def as_page(problem: Problem) -> Response:
    """A page that needs no database and no signed-in person."""
    return Response(render_template("error.html", problem=problem), status=problem.status, content_type="text/html")


def refused_with(status: int) -> Problem:
    """A plain refusal under another status of HTTP."""
    return replace(REFUSED, status=status)
