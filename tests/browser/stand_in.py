"""A tablet API of a few lines with faults on demand, behind the real shell doors and the real headers.

It keeps the two promises the engine builds on, and nothing else: an event is stored once under its id, and each
answer names the hash of the bytes that came. What the real server does beyond that is tested with the real one.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from flask import Flask, Response, request
from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from bedside.settings import folder
from bedside.sync.sealing import Opener, SealingKey
from bedside.web import shell
from bedside.web.headers import add_headers

MAIN = """
import { startEngine } from "./engine.js";
window.engine = startEngine();
"""
"""In place of the screens: the engine alone."""

HOUSE = "h-stand-in"
CODE = "2468 1357"
KEY = SealingKey.of(b"the stand-in's own thirty-two by")
BOOK = '{"limits":{}}'


class Quiet(WSGIRequestHandler):
    """No line on standard error for each request."""

    def log(self, type: str, message: str, *args: Any) -> None:
        pass


@dataclass
class Faults:
    """What goes wrong from now on; each test sets what it needs."""

    signed_in: bool = True
    portal: Callable[[], Response] | None = None
    """Answers every JSON door in place of the house."""
    lose_answers: int = 0
    """So many batches are stored, and then the line breaks."""
    refuse: list[int] = field(default_factory=list)
    """Statuses for the next batches, one each."""
    most_events: int = 1000
    """Larger batches are answered 413."""
    not_readable: set[str] = field(default_factory=set)
    """A batch with a visit of this set is answered 400."""
    wrong_hash: set[str] = field(default_factory=set)
    """Visits whose events are answered with another hash."""
    say_nothing_of: set[str] = field(default_factory=set)
    """Visits whose events are left out of the answer."""
    statuses: dict[str, str] = field(default_factory=dict)
    """Visit to the status its events get, without being stored."""
    hold: threading.Event | None = None
    """Events are answered only once this is set."""
    spoiled: str | None = None
    """A file of the shell that comes with a byte too many."""


class StandIn:
    """One house on one port; `stop` and `start` keep the port and what is stored."""

    def __init__(self, static: Path) -> None:
        self.static = static
        self.house = HOUSE
        self.formerly: list[str] = []
        self.revision = 1
        self.person = {"id": "p-ines", "name": "Ines Baptista", "role": "phlebotomist"}
        self.packet: dict[str, Any] | None = None
        self.faults = Faults()
        self.stored: dict[str, dict[str, Any]] = {}
        self.batches: list[list[dict[str, Any]]] = []
        self.sent: list[dict[str, Any]] = []
        """Events as they came over the wire; `stored` and `batches` hold them opened."""
        self.signed: list[str | None] = []
        """Which tablet signed each request for a JSON door."""
        self.revoked = False
        self.fresh_sign_in = True
        self.handed_back: list[dict[str, Any]] = []
        self.pins_used_up: list[dict[str, Any]] = []
        self.claimed: dict[str, dict[str, Any]] = {}
        """Who is at a bed, by visit, as another tablet is told."""
        self.left: list[str] = []
        self.holders: list[str | None] = []
        self.letters: list[dict[str, Any]] = []
        self.requests: list[str] = []
        self.port = 0
        self._server: BaseWSGIServer | None = None

    # ---- running

    def start(self) -> None:
        """Listen, on the port of last time if there was one."""
        self._server = make_server("127.0.0.1", self.port, self._app(), threaded=True, request_handler=Quiet)
        self.port = self._server.server_port
        threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()

    def stop(self) -> None:
        """Close the port: from now on connections are refused."""
        if self._server is not None:
            self._server.shutdown()
            self._server.server_close()
            self._server = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/tablet/"

    @property
    def doors_asked(self) -> list[str]:
        """Requests for the page or its doors; the browser itself looks for a newer worker whatever we tell it."""
        return [path for path in self.requests if path.startswith("/tablet/")]

    def asked(self, path: str) -> int:
        """How often a path was asked for."""
        return self.requests.count(path)

    # ---- doors

    def _app(self) -> Flask:
        app = Flask("stand-in", static_folder=str(self.static), template_folder=str(folder("templates")))
        app.config["HOUSE"] = self.house
        app.register_blueprint(shell.pages)
        app.before_request(self._intercept)
        app.add_url_rule("/tablet/", "tablet.shell", lambda: app.jinja_env.get_template("tablet/shell.html").render())
        app.add_url_rule("/tablet/hello", "tablet.hello", self._hello)
        app.add_url_rule("/tablet/packet", "tablet.packet", self._packet)
        app.add_url_rule("/tablet/claim", "tablet.claim", self._claim, methods=["POST"])
        app.add_url_rule("/tablet/leave", "tablet.leave", self._leave, methods=["POST"])
        app.add_url_rule("/tablet/enrol", "tablet.enrol", self._enrol, methods=["POST"])
        app.add_url_rule("/tablet/hand-back", "tablet.hand_back", self._hand_back, methods=["POST"])
        app.add_url_rule("/tablet/pins-used-up", "tablet.pins_used_up", self._pins_used_up, methods=["POST"])
        app.add_url_rule("/tablet/events", "tablet.events", self._events, methods=["POST"])
        # Flask runs these from the last to the first: a portal takes off what the house put on.
        app.after_request(self._impostor)
        app.after_request(self._spoil)
        app.after_request(add_headers)
        return app

    def _intercept(self) -> Response | None:
        self.requests.append(request.path)
        if request.path == "/tablet/" or not request.path.startswith("/tablet/"):
            return None
        self.signed.append(request.headers.get("X-Bedside-Tablet"))
        if self.faults.portal:
            return self.faults.portal()
        # Enrolling needs a code and nobody's sign-in.
        return None if self.faults.signed_in or request.path == "/tablet/enrol" else problem(401)

    def _impostor(self, response: Response) -> Response:
        """A portal knows nothing of our header."""
        if self.faults.portal and request.path != "/tablet/":
            response.headers.pop("X-Bedside-House", None)
        return response

    def _spoil(self, response: Response) -> Response:
        if self.faults.spoiled and request.path.endswith(self.faults.spoiled):
            response.set_data(response.get_data() + b"\n")
        return response

    def _hello(self) -> Response:
        return as_json(
            {
                "house": self.house,
                "formerly": self.formerly,
                "revision": self.revision,
                "now": datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
                "person": self.person,
                "fresh_sign_in": self.fresh_sign_in,
                "sealing": KEY.as_json(),
                "revoked": self.revoked,
            }
        )

    def _enrol(self) -> Response:
        if request.get_json()["code"].replace(" ", "") != CODE.replace(" ", ""):
            return problem(422)
        return as_json({"house": self.house, "name": "Ward 5, no. 2", "sealing": KEY.as_json()})

    def _claim(self) -> Response:
        visit = request.get_json()["visit"]
        return as_json({"house": self.house, "visit": visit, "elsewhere": self.claimed.get(visit)})

    def _leave(self) -> Response:
        self.left.append(request.get_json()["visit"])
        return as_json({"house": self.house, "visit": self.left[-1]})

    def _hand_back(self) -> Response:
        self.handed_back.append(request.get_json())
        closed = self.handed_back[-1]["unsent"] == "0"
        return as_json({"house": self.house, "rounds": [{"name": "Ward 5", "closed": closed, "hangs_on": []}]})

    def _pins_used_up(self) -> Response:
        self.pins_used_up.append({**request.get_json(), "signed": request.headers.get("X-Bedside-Tablet")})
        return as_json({"house": self.house})

    def _packet(self) -> Response:
        self.holders.append(request.args.get("tablet"))
        return as_json(self.packet) if self.packet else problem(404)

    def _events(self) -> Response:
        if self.faults.hold:
            self.faults.hold.wait(20)
        self.letters.append(request.get_json())
        self.sent += self.letters[-1]["events"]
        events = [opened(event) for event in self.letters[-1]["events"]]
        visits = {json.loads(event["body"])["visit"] for event in events}
        self.batches.append(events)
        if self.faults.refuse:
            return problem(self.faults.refuse.pop(0))
        if len(events) > self.faults.most_events:
            return problem(413)
        if visits & self.faults.not_readable:
            return problem(400)
        answers = [self._answer(event) for event in events]
        if self.faults.lose_answers:
            self.faults.lose_answers -= 1
            request.environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
        answers = [each for each in answers if each["visit"] not in self.faults.say_nothing_of]
        head = {"n": len(self.stored), "hash": f"sha256:{len(self.stored)}"}
        told = {"house": self.house, "revision": self.revision, "answers": answers, "head": head}
        return as_json({**told, "revoked": self.revoked})

    def _answer(self, event: dict[str, Any]) -> dict[str, Any]:
        visit = json.loads(event["body"])["visit"]
        answer = {"id": event["id"], "visit": visit, "hash": event["hash"], "findings": []}
        if visit in self.faults.wrong_hash:
            answer["hash"] = hash_of("other bytes")
        status = self.faults.statuses.get(visit)
        if status is None:
            status = "known" if event["id"] in self.stored else "stored"
            self.stored.setdefault(event["id"], event)
        return {**answer, "status": status}


def opened(event: dict[str, Any]) -> dict[str, Any]:
    """An event with the text that was sealed in it, and the hash of what was sent."""
    told = {name: event[name] for name in ("id", "tablet", "seq")}
    if "sealed" not in event:
        return {**told, "body": event["body"], "hash": hash_of(event["body"])}
    body = Opener((KEY,)).open(event["sealed"], event["id"], event["tablet"])
    return {**told, "body": body, "hash": hash_of(event["sealed"])}


def hash_of(text: str) -> str:
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def as_json(thing: Any, status: int = 200) -> Response:
    return Response(json.dumps(thing), status=status, content_type="application/json")


def problem(status: int) -> Response:
    response = as_json({"status": status, "title": "No", "detail": "Not now.", "do_next": "Wait."}, status)
    response.content_type = "application/problem+json"
    return response


def copy_static(to: Path) -> Path:
    """The real files, with the engine alone in place of the screens."""
    shutil.copytree(folder("static"), to)
    (to / "js" / "tablet" / "main.js").write_text(MAIN)
    return to


def make_packet(revision: int = 1, **changes: Any) -> dict[str, Any]:
    """A packet as the house sends it: one patient, one tube, two spares."""
    return {
        "id": "k-1",
        "house": HOUSE,
        "schema": 1,
        "revision": revision,
        "made_at": "2026-11-25T04:10:00.000Z",
        "until": "2036-11-25T12:00:00.000Z",
        "by": "p-ines",
        "people": {},
        "rulebook": BOOK,
        "rulebook_hash": hash_of(BOOK),
        "directory": {"version": "sha256:0", "tests": {}},
        "spares": [{"specimen": "0000000017", "label": {}}, {"specimen": "0000000024", "label": {}}],
        "visits": [
            {
                "id": "v-kaarina",
                "patient": {"name": "Ojala, Kaarina", "birth_date": "1951-03-09", "record_number": "40031977"},
                "orders": [],
                "tubes": [{"id": "t-1", "kind": "serum-gel", "specimen": "1000000017"}],
            }
        ],
        **changes,
    }
