"""SIGKILL to the server, and to the browser, at every point where an event changes hands.

C1 before the tablet's commit · C2 after it, before sending (`test_killed_browser.py`, `test_with_the_real_house.py`) ·
C3 the letter half sent · C4 read by the server, not committed · C5 committed, no answer sent · C6 the answer half
sent · C7 answer received, before the tablet lets go · C8 while it lets go · C9 while a store changes its schema (the
server's: `tests/records/test_killed_while_migrating.py`) · C10 while the worker is installed or takes over · C11 while
somebody signs out.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from . import fault_proxy as line
from .fault_proxy import FaultProxy
from .house_process import HouseProcess
from .killable_browser import KillableBrowser
from .stand_in import StandIn, copy_static, make_packet
from .tablet import Tablet
from .test_with_the_real_house import a_visit, sign_in
from .waiting import wait_until

KEEP_SAVING = """() => {
  window.called = [];
  const pair = [{visit: 'v-kaarina', kind: 'tourniquet_off'}, {visit: 'v-kaarina', kind: 'needle_out'}];
  const next = () => engine.recordAll(pair).then(saved => called.push(...saved.map(event => event.id))).then(next);
  next();
}"""

HOLD_THE_QUEUE = """house => new Promise(held => {
  const opening = indexedDB.open(`bedside-${house}`);
  opening.onsuccess = () => {
    const queue = opening.result.transaction(['outbox'], 'readwrite').objectStore('outbox');
    const hold = () => { queue.count().onsuccess = () => { held(true); hold(); }; };
    hold();
  };
})"""
"""A transaction that never ends: whoever wants to let go of an event has to wait."""

UPGRADE_WITHOUT_END = """house => new Promise(begun => {
  indexedDB.databases().then(found => {
    const {name, version} = found.find(each => each.name === `bedside-${house}`);
    const opening = indexedDB.open(name, version + 1);
    opening.onupgradeneeded = () => {
      const events = opening.transaction.objectStore('events');
      events.deleteIndex('by_visit');
      opening.result.createObjectStore('half_made');
      const hold = () => { events.count().onsuccess = () => { begun(true); hold(); }; };
      hold();
    };
  });
})"""
"""A later version's upgrade, in the middle."""


@pytest.fixture
def proxy() -> Iterator[Callable[[int], FaultProxy]]:
    made: list[FaultProxy] = []

    def between(port: int) -> FaultProxy:
        made.append(FaultProxy(port))
        made[-1].start()
        return made[-1]

    yield between
    for each in made:
        each.heal()
        each.refuse()


def holds(until: threading.Event, then: line.Fault) -> line.Fault:
    """Keeps the letter back until it is let through."""

    def hold(proxy: FaultProxy, client: line.socket.socket, request: line.Request) -> bool:
        proxy.strike()
        until.wait(line.PATIENCE_S)
        return then(proxy, client, request)

    return line.at_the_events(hold)


def arrived_once(stand_in: StandIn, count: int) -> None:
    assert sorted(event["seq"] for event in stand_in.stored.values()) == list(range(1, count + 1))


# ---- the browser dies ----------------------------------------------------------------------------------------------


@pytest.fixture
def dying(killable: KillableBrowser, stand_in: StandIn, proxy: Callable[[int], FaultProxy]) -> Dying:
    """A tablet on a profile on disk, its line through a proxy."""
    return Dying(killable, stand_in, proxy(stand_in.port))


class Dying:
    def __init__(self, browser: KillableBrowser, stand_in: StandIn, proxy: FaultProxy) -> None:
        self.browser, self.stand_in, self.proxy = browser, stand_in, proxy
        self.tablet = self.open()
        self.tablet.page.evaluate("engine.refreshPacket()")

    def open(self) -> Tablet:
        return Tablet(self.browser.start(), self.proxy.url).open()

    def die_and_come_back(self) -> Tablet:
        self.browser.kill()
        self.proxy.heal()
        self.tablet = self.open()
        return self.tablet


def test_c1_killed_while_it_saves_it_has_all_it_called_saved_and_no_half_moment(dying: Dying):
    dying.proxy.refuse()
    dying.tablet.page.evaluate(KEEP_SAVING)
    dying.tablet.page.wait_for_function("() => called.length >= 10")
    called = dying.tablet.page.evaluate("[...called]")

    again = dying.die_and_come_back()

    found = again.events()
    assert set(called) <= {event["id"] for event in found}
    assert [event["seq"] for event in found] == list(range(1, len(found) + 1))
    assert len(found) % 2 == 0  # both of a moment, or neither
    again.all_sent()
    arrived_once(dying.stand_in, len(found))


@pytest.mark.parametrize(
    "fault",
    [line.cuts_the_request_in_half, line.cuts_after_the_request, line.cuts_after(17), line.cuts_after(400)],
    ids=["c3-letter-half-sent", "c5-committed-no-answer", "c6-answer-only-begun", "c6-answer-half-sent"],
)
def test_killed_while_a_letter_is_on_its_way_nothing_is_lost_or_doubled(dying: Dying, fault: line.Fault):
    until = threading.Event()
    dying.proxy.break_with(holds(until, fault))
    saved = [dying.tablet.record()["id"] for _ in range(3)]
    wait_until(lambda: dying.proxy.faults, "the letter is on its way")
    until.set()
    wait_until(lambda: dying.proxy.faults > 1, "and stopped half way")

    again = dying.die_and_come_back()

    assert [event["id"] for event in again.events()] == saved
    again.all_sent()
    arrived_once(dying.stand_in, 3)


def test_c7_killed_with_the_answer_in_hand_and_nothing_let_go_of_it_sends_again_and_doubles_nothing(dying: Dying):
    until = threading.Event()
    dying.proxy.break_with(holds(until, line.passes))
    saved = [dying.tablet.record()["id"] for _ in range(3)]
    wait_until(lambda: dying.proxy.faults, "the letter is on its way")
    before = dying.tablet.status()["lastContactAt"]
    assert dying.tablet.page.evaluate(HOLD_THE_QUEUE, dying.tablet.status()["house"])
    until.set()
    dying.tablet.page.wait_for_function("before => engine.status.lastContactAt !== before", arg=before)

    again = dying.die_and_come_back()

    assert len(dying.stand_in.stored) >= 1
    assert [event["id"] for event in again.events()] == saved
    again.all_sent()
    arrived_once(dying.stand_in, 3)


def test_c8_killed_again_and_again_while_it_lets_go_nothing_is_lost_or_doubled(dying: Dying):
    dying.stand_in.faults.most_events = 5
    dying.proxy.refuse()
    for _ in range(3):
        dying.tablet.record_all([{"visit": "v-kaarina", "kind": "site_touched"}] * 40)
    for letters in (2, 6, 11):
        dying.proxy.heal()
        dying.tablet.page.evaluate("void engine.tryAgain()")
        wait_until(lambda n=letters: len(dying.stand_in.batches) >= n, "so many letters have come")
        again = dying.die_and_come_back()
        held = {event["id"] for event in again.events() if event["answer"]}
        assert held <= set(dying.stand_in.stored)

    dying.tablet.all_sent()
    arrived_once(dying.stand_in, 120)


def test_c9_killed_in_the_middle_of_an_upgrade_of_its_store_it_has_everything_of_before(dying: Dying):
    dying.proxy.refuse()
    saved = [dying.tablet.record()["id"] for _ in range(3)]
    assert dying.tablet.page.evaluate(UPGRADE_WITHOUT_END, dying.tablet.status()["house"])

    again = dying.die_and_come_back()

    assert [event["id"] for event in again.events()] == saved
    assert again.page.evaluate("engine.eventsOf('v-kaarina').then(found => found.length)") == 3
    again.all_sent()
    arrived_once(dying.stand_in, 3)


def test_c10_killed_while_the_worker_is_installed_it_is_installed_the_next_time(
    killable: KillableBrowser, stand_in: StandIn, proxy: Callable[[int], FaultProxy]
):
    between = proxy(stand_in.port)
    between.break_with(stops_the_second_fetch_of("css/tokens.css"))
    first = Tablet(killable.start(), between.url).open()
    wait_until(lambda: between.faults, "the worker is fetching the files")
    assert first.status()["opensOffline"] is None
    killable.kill()
    between.heal()

    again = Tablet(killable.start(), between.url).open()
    again.opens_offline()

    between.refuse()
    again.reload()
    assert again.record()["seq"] == 1


def stops_the_second_fetch_of(name: str) -> line.Fault:
    """The page itself gets the file; whoever asks for it once more waits."""
    fetched: list[str] = []

    def stop(proxy: FaultProxy, client: line.socket.socket, request: line.Request) -> bool:
        if request.path.endswith(name):
            fetched.append(name)
        is_again = request.path.endswith(name) and len(fetched) > 1
        return (line.swallows if is_again else line.passes)(proxy, client, request)

    return stop


def test_c10_killed_while_a_new_version_takes_over_it_opens_and_has_everything(
    killable: KillableBrowser, tmp_path: Path
):
    files = copy_static(tmp_path / "static")
    house = StandIn(files)
    house.packet = make_packet()
    house.start()
    tablet = Tablet(killable.start(), house.url).open()
    tablet.opens_offline()
    house.stop()
    saved = [tablet.record()["id"] for _ in range(3)]
    (files / "css" / "tokens.css").write_text((files / "css" / "tokens.css").read_text() + "\n/* new */\n")
    house.faults.signed_in = False
    house.start()
    tablet.reload()
    tablet.until(update="waiting")
    tablet.page.evaluate("void engine.takeOver()")
    killable.kill()
    house.faults.signed_in = True

    again = Tablet(killable.start(), house.url).open()

    assert [event["id"] for event in again.events()] == saved
    again.opens_offline()
    again.all_sent()
    house.stop()
    arrived_once(house, 3)
    again.reload()
    assert again.status()["unsent"] == 0


def test_c11_killed_while_somebody_signs_out_what_was_unsent_is_still_there(
    killable: KillableBrowser, server: HouseProcess, proxy: Callable[[int], FaultProxy]
):
    between = proxy(server.port)
    tablet = Tablet(killable.start(), between.url)
    sign_in(tablet, between)
    tablet.page.evaluate("engine.refreshPacket()")
    visit = a_visit(tablet)
    between.break_with(line.at_the_events(line.resets))
    saved = [tablet.record(visit, "site_touched") for _ in range(3)]
    between.break_with(signs_out_and_never_says_so)
    tablet.page.evaluate(
        """() => {
          const form = document.createElement('form');
          form.method = 'post';
          form.action = '/sign-out';
          document.body.append(form);
          form.submit();
        }"""
    )
    wait_until(lambda: between.faults, "the sign-out is on its way")
    killable.kill()
    between.heal()

    again = Tablet(killable.start(), between.url)
    sign_in(again, between)
    again.all_sent()

    assert [id for id, _ in server.events()] == [event["id"] for event in saved]


def signs_out_and_never_says_so(proxy: FaultProxy, client: line.socket.socket, request: line.Request) -> bool:
    if request.path == "/sign-out":
        proxy.answer_to(request)
        return line.swallows(proxy, client, request)
    return (line.resets if request.carries_events else line.passes)(proxy, client, request)


# ---- the server dies -----------------------------------------------------------------------------------------------


class Ward:
    """The real server behind a proxy, a signed-in tablet before it."""

    def __init__(self, server: HouseProcess, proxy: FaultProxy, context: BrowserContext) -> None:
        self.server, self.proxy = server, proxy
        self.tablet = Tablet(context.new_page(), proxy.url)
        sign_in(self.tablet, proxy)
        self.tablet.page.evaluate("engine.refreshPacket()")
        self.tablet.until(state="quiet")
        self.visit = a_visit(self.tablet)

    def save(self, count: int) -> list[tuple[str, int]]:
        saved = self.tablet.record_all([{"visit": self.visit, "kind": "site_touched"}] * count)["saved"]
        return [(event["id"], event["seq"]) for event in saved]

    def die_and_come_back(self) -> None:
        self.server.kill()
        self.proxy.heal()
        self.server.start()

    def held(self) -> list[tuple[str, int]]:
        return sorted(self.server.events(), key=lambda event: event[1])


@pytest.fixture
def ward(server: HouseProcess, proxy: Callable[[int], FaultProxy], profile: BrowserContext) -> Ward:
    return Ward(server, proxy(server.port), profile)


def test_c3_the_server_killed_with_half_a_letter_in_hand_gets_the_whole_one_later(ward: Ward):
    ward.proxy.break_with(line.at_the_events(half_and_wait))
    saved = ward.save(4)
    wait_until(lambda: ward.proxy.faults, "half of the letter is with the server")

    ward.die_and_come_back()

    assert ward.held() == []
    ward.tablet.all_sent()
    assert ward.held() == saved


def half_and_wait(proxy: FaultProxy, client: line.socket.socket, request: line.Request) -> bool:
    with line.socket.create_connection(("127.0.0.1", proxy.upstream), line.PATIENCE_S) as house:
        house.sendall(request.head + request.body[: len(request.body) // 2])
        proxy.strike()
        proxy.healed.wait(line.PATIENCE_S)
    return False


def test_c4_the_server_killed_after_reading_and_before_writing_has_nothing_and_later_all(ward: Ward):
    with write_lock_of(ward.server):
        ward.proxy.break_with(line.at_the_events(strikes_then_passes))
        saved = ward.save(4)
        wait_until(lambda: ward.proxy.faults, "the server has the letter and waits for its turn to write")
        ward.server.kill()

    ward.die_and_come_back()

    assert ward.held() == []
    ward.tablet.all_sent()
    assert ward.held() == saved


def strikes_then_passes(proxy: FaultProxy, client: line.socket.socket, request: line.Request) -> bool:
    """Says when the house has the whole letter, and then waits for its answer."""
    with line.socket.create_connection(("127.0.0.1", proxy.upstream), line.PATIENCE_S) as house:
        house.sendall(line.closing(request.head) + request.body)
        proxy.strike()
        while house.recv(line.CHUNK):
            pass
    return False


@contextmanager
def write_lock_of(server: HouseProcess) -> Iterator[None]:
    with closing(sqlite3.connect(server.home / "bedside.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


@pytest.mark.parametrize("through", [0, 17, 900], ids=["c5-nothing-of-it", "c6-its-first-bytes", "c6-half-of-it"])
def test_the_server_killed_after_the_commit_and_before_its_answer_is_through_is_asked_again(ward: Ward, through: int):
    ward.proxy.break_with(line.at_the_events(line.cuts_after(through)))
    saved = ward.save(4)
    wait_until(lambda: ward.proxy.faults, "the letter is committed")

    ward.die_and_come_back()

    assert ward.held() == saved
    assert ward.tablet.status()["unsent"] == 4
    ward.tablet.all_sent()
    assert ward.held() == saved
    assert {event["answer"]["status"] for event in ward.tablet.events()} == {"known"}
