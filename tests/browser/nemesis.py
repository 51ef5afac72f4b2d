"""Several tablets on one ward, and somebody who breaks something every moment: lines, pages, the server itself.

Everything is chosen by one seeded chance, and the kinds of trouble come from a shuffled deck, so that each is tried
about as often as the others. What the browser and the server make of it in the meantime is their own affair: the same
seed gives the same acts in the same order, not the same moments.
"""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from random import Random
from typing import Any
from uuid import UUID

from playwright.sync_api import BrowserContext
from playwright.sync_api import Error as BrowserError

from . import fault_proxy as line
from .fault_proxy import FaultProxy, Request
from .house_process import HouseProcess
from .tablet import Tablet
from .test_with_the_real_house import OWN_ENGINE

FAULTS: dict[str, tuple[Callable[[line.Fault], line.Fault], line.Fault]] = {
    "nobody answers": (line.at_the_doors, line.swallows),
    "2 kB/s": (line.at_the_doors, line.trickles(2000)),
    "cut in the request": (line.at_the_events, line.cuts_the_request_in_half),
    "cut after the request": (line.at_the_events, line.cuts_after_the_request),
    "cut after 17 bytes of the answer": (line.at_the_events, line.cuts_after(17)),
    "cut after 300 bytes of the answer": (line.at_the_events, line.cuts_after(300)),
    "cut 40 bytes before the answer's end": (line.at_the_events, line.cuts_after(-40)),
    "reset": (line.at_the_doors, line.resets),
    "bad gateway": (line.at_the_doors, line.answers_with(line.page("502 Bad Gateway", "Bad gateway"))),
    "captive portal": (line.at_the_doors, line.answers_with(line.page("200 OK", "Welcome to the guest network"))),
    "sent to a sign-in": (line.at_the_doors, line.answers_with(line.page("302 Found", "Go", "Location: /sign-in"))),
    "too large": (line.at_the_events, line.refuses_over(4000)),
    "gone every third of a second": (line.at_the_doors, line.flaps(0.3)),
}
REFUSED = "refused"
SERVER_KILLED = "server killed"
LASTS = (4, 24)
"""Times something is recorded until a line is mended, the network is back or the server is started again."""
WITHIN_REASON = 60

FORGETS_TO_WAIT = "specs => { void engine.recordAll(specs).catch(() => {}); }"
ASKS = "void engine.tryAgain()"


class KeepingProxy(FaultProxy):
    """One that keeps the files of the app, which never change under their address: every tablet fetches them."""

    def __init__(self, upstream: int, kept: dict[str, bytes]) -> None:
        super().__init__(upstream)
        self.kept = kept

    def answer_to(self, request: Request) -> bytes:
        if not request.path.startswith("/static/"):
            return super().answer_to(request)
        if request.path not in self.kept:
            self.kept[request.path] = super().answer_to(request)
        return self.kept[request.path]


@dataclass
class Carried:
    """One tablet, its own line to the house, and what its person was told is saved."""

    context: BrowserContext
    line: FaultProxy
    tablet: Tablet
    saved: list[str] = field(default_factory=list)
    perhaps: list[str] = field(default_factory=list)
    """Ids of events whose page died before it said whether they are saved."""
    mended_at: int = 0
    has_struck: Callable[[], bool] = lambda: True
    """Whether the trouble of this moment has met somebody; a line is not mended before, within reason."""

    def comes_back(self) -> None:
        """A new page in the same browser profile, unlocked."""
        self.tablet.page = self.context.new_page()
        self.opens()

    def opens(self) -> None:
        self.tablet.page.goto(self.tablet.url)
        self.tablet.page.evaluate(OWN_ENGINE)
        self.tablet.ready()


class Nemesis:
    """Acts one after the other. `tried` counts each kind of trouble, `met` the requests that ran into each fault."""

    def __init__(self, seed: int, carried: list[Carried], house: HouseProcess, visits: list[str]) -> None:
        self.chance = Random(seed)
        self.carried = carried
        self.house = house
        self.visits = visits
        self.acts = 0
        self.tried: Counter[str] = Counter()
        self.met: Counter[str] = Counter()
        self._deck: list[str] = []
        self._pages: dict[str, Callable[[Carried], None]] = {
            "network off": self._network_off,
            "page loaded again": self._reload,
            "page closed while it saves": self._close,
            "page crashed while it saves": self._crash,
        }
        self._starter = ThreadPoolExecutor(1)
        self._starting: Future[None] | None = None
        self._server_back_at: int | None = None

    @property
    def kinds(self) -> list[str]:
        return [*FAULTS, REFUSED, *self._pages, SERVER_KILLED]

    @property
    def untried(self) -> set[str]:
        return set(self.kinds) - set(self.tried)

    # ---- acting

    def act(self) -> None:
        """A few people record and ask for sending; then one thing goes wrong; what is due is mended."""
        for _ in range(self.chance.randint(2, 6)):
            self._a_visit(self.chance.choice(self.carried))
        self._mend_what_is_due()
        if not self._deck:
            self._deck = self.chance.sample(self.kinds, len(self.kinds))
        self._strike(self._deck.pop(), self.chance.choice(self.carried))

    def _a_visit(self, who: Carried) -> None:
        told = who.tablet.record_all(self._specs())
        assert "saved" in told, told
        who.saved += [event["id"] for event in told["saved"]]
        if self.chance.random() < 0.3:
            who.tablet.page.evaluate(ASKS)
        self.acts += 1

    def _specs(self) -> list[dict[str, Any]]:
        visit = self.chance.choice(self.visits)
        kinds: list[tuple[str, dict[str, Any]]] = [("arrived", {})]
        kinds += [("site_touched", {})] * self.chance.randint(0, 4)
        if self.chance.random() < 0.1:
            kinds.append(("visit_ended", {"outcome": "away"}))
        return [{"visit": visit, "kind": kind, "data": data, "id": self._new_id()} for kind, data in kinds]

    def _new_id(self) -> str:
        return str(UUID(int=self.chance.getrandbits(128), version=4))

    def _strike(self, kind: str, who: Carried) -> None:
        self.tried[kind] += 1
        if kind == SERVER_KILLED:
            self._kill_server()
        elif kind in self._pages:
            self._pages[kind](who)
        else:
            self._break_line(kind, who)

    def _for_a_while(self) -> int:
        return self.acts + self.chance.randint(*LASTS)

    # ---- the line

    def _break_line(self, kind: str, who: Carried) -> None:
        who.line.heal()
        before = who.line.faults
        who.has_struck = lambda: kind == REFUSED or who.line.faults > before
        if kind == REFUSED:
            who.line.refuse()
        else:
            where, fault = FAULTS[kind]
            who.line.break_with(where(self._counted(kind, fault)))
        who.mended_at = self._for_a_while()
        self._a_visit(who)  # so that there is something to send over it
        who.tablet.page.evaluate(ASKS)

    def _counted(self, kind: str, fault: line.Fault) -> line.Fault:
        def counted(proxy: FaultProxy, client: Any, request: Request) -> bool:
            self.met[kind] += 1
            return fault(proxy, client, request)

        return counted

    def _network_off(self, who: Carried) -> None:
        who.context.set_offline(True)
        who.mended_at = self._for_a_while()

    def _mend_what_is_due(self) -> None:
        for who in self.carried:
            if who.mended_at and who.mended_at + (0 if who.has_struck() else WITHIN_REASON) <= self.acts:
                self._mend(who)
        if self._server_back_at is not None and self._server_back_at <= self.acts:
            self._start_server()

    def _mend(self, who: Carried) -> None:
        who.mended_at = 0
        who.context.set_offline(False)
        who.line.heal()

    # ---- the page

    def _reload(self, who: Carried) -> None:
        who.opens()

    def _close(self, who: Carried) -> None:
        self._begins_to_save(who)
        who.tablet.page.close()
        who.comes_back()

    def _crash(self, who: Carried) -> None:
        self._begins_to_save(who)
        with contextlib.suppress(BrowserError):  # that is how a crash is told
            who.tablet.page.goto("chrome://crash")
        who.tablet.page.close()
        who.comes_back()

    def _begins_to_save(self, who: Carried) -> None:
        specs = self._specs()
        who.perhaps += [spec["id"] for spec in specs]
        who.tablet.page.evaluate(FORGETS_TO_WAIT, specs)

    # ---- the server

    def _kill_server(self) -> None:
        self._start_server()
        self._is_started()
        self.house.kill()
        self._server_back_at = self._for_a_while()

    def _start_server(self) -> None:
        if self._server_back_at is not None:
            self._server_back_at = None
            self._starting = self._starter.submit(self.house.start)

    def _is_started(self) -> None:
        if self._starting is not None:
            self._starting.result()
            self._starting = None

    # ---- the end

    def heals(self) -> None:
        """Everything works again, and everybody sends what they have."""
        self._start_server()
        self._is_started()
        self._starter.shutdown()
        for who in self.carried:
            self._mend(who)
            who.tablet.page.evaluate(ASKS)

    def report(self) -> str:
        """Each kind of trouble, how often it was tried, and how many requests ran into it."""
        rows = [
            f"{kind:38} {self.tried[kind]:4}" + (f"  met by {self.met[kind]} requests" if kind in FAULTS else "")
            for kind in self.kinds
        ]
        return "\n".join(rows)
