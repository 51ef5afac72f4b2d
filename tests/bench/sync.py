"""How fast what is saved gets home, against what the same machine can do at all, in the same run.

The tablet is real Chromium, slowed four times where the figure says so. What a server does is measured on SQLite, and
as `sync_postgres_…` on a PostgreSQL cluster of the benchmark's own, on disk, with `fsync` on.
"""

from __future__ import annotations

import gzip
import json
import logging
import sqlite3
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import peewee
import psycopg
from flask import Flask, jsonify, request
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from werkzeug.serving import make_server

from bedside.people.roles import Role
from bedside.records.database import connected, db, on_postgres, writing
from bedside.records.tables import Visit
from bedside.settings import folder
from bedside.web.shell import read_build
from tests.a_house import AHouse
from tests.bench import Figure
from tests.browser.browser_finder import FLAGS, find_browser
from tests.browser.house_process import HouseProcess, fill_house
from tests.browser.stand_in import Quiet, StandIn, copy_static, make_packet
from tests.browser.tablet import Tablet
from tests.browser.test_with_the_real_house import sign_in
from tests.databases import DATABASES
from tests.throwaway_cluster import running

QUEUED = 500
BATCH = 50
A_VISIT = 25
TABLETS, EACH = 50, 200
SLOWED = 4
TAPS = 100
STARTS = 9
BEDS = 60
FEW, MANY, ASKED = 1_000, 1_000_000, 15
LAST_YEAR = "2025-11-25T06:00:00.000Z"


def figures() -> Iterator[Figure]:
    logging.disable(logging.CRITICAL)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        path = find_browser(playwright.chromium.executable_path)
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        home = Path(scratch)
        yield from _on_the_tablet(browser, home / "stand-in")
        yield from _drained(browser, home)
        yield from _with_years_behind(home / "small", home / "large")
        with running(on_disk=True) as cluster:
            yield from map(_on_postgres, _drained(browser, home / "postgres", cluster.make()))
            DATABASES.begin(cluster)
            yield from map(_on_postgres, _with_years_behind(home / "small-there", home / "large-there"))
            DATABASES.end()
        browser.close()
    yield _weight()


def _on_postgres(figure: Figure) -> Figure:
    return replace(figure, name=figure.name.replace("sync_", "sync_postgres_", 1), how=f"PostgreSQL; {figure.how}")


# ---- the tablet ----------------------------------------------------------------------------------------------------


def _on_the_tablet(browser: Browser, home: Path) -> Iterator[Figure]:
    house = StandIn(copy_static(home))
    house.packet = make_packet(visits=[_bed(number) for number in range(BEDS)])
    house.start()
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    tablet = Tablet(context.new_page(), house.url).open()
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.opens_offline()
    house.stop()
    _slow_down(context, tablet.page)
    took = sorted(tablet.page.evaluate(SAVE_AND_TIME, TAPS))
    how = f"{TAPS} events one by one, tap to committed, headless Chromium slowed {SLOWED} times"
    yield Figure("sync_tap_to_saved_p95", took[int(0.95 * TAPS)], "ms", how)
    yield Figure("sync_tap_to_saved_median", took[TAPS // 2], "ms", how)
    starts, unlocks = zip(*(_offline_start(context, house) for _ in range(STARTS)), strict=True)
    how = f"median of {STARTS}, new page, server gone, engine without screens, slowed {SLOWED} times"
    yield Figure(
        "sync_cold_start_offline", sorted(starts)[STARTS // 2], "ms", f"to the place where a PIN is typed, {how}"
    )
    yield Figure("sync_unlock_offline", sorted(unlocks)[STARTS // 2], "ms", f"PIN to {BEDS} visits read, {how}")
    context.close()


SAVE_AND_TIME = """async taps => {
  const took = [];
  for (let tap = 0; tap < taps; tap += 1) {
    const began = performance.now();
    await engine.record({visit: 'v-1', kind: 'site_touched'});
    took.push(performance.now() - began);
  }
  return took;
}"""


COME_IN = """pin => engine.ready.then(() => engine.unlock("p-ines", pin))
  .then(() => engine.packet()).then(packet => packet.visits.length)"""

UNLOCK_AND_TIME = """async pin => {
  engine.lock();
  const began = performance.now();
  await engine.unlock("p-ines", pin);
  return performance.now() - began;
}"""


def _offline_start(context: BrowserContext, house: StandIn) -> tuple[float, float]:
    """Milliseconds until a PIN can be typed, and from the PIN typed to the round read; the server is gone."""
    tablet = Tablet(context.new_page(), house.url)
    _slow_down(context, tablet.page)
    began = time.perf_counter()
    tablet.page.goto(house.url)
    tablet.starts()
    started = time.perf_counter()
    tablet.unlock()
    beds = tablet.page.evaluate("engine.packet().then(packet => packet.visits.length)")
    ended = time.perf_counter()
    assert beds == BEDS
    tablet.page.close()
    return (started - began) * 1000, (ended - started) * 1000


def _slow_down(context: BrowserContext, page: Page) -> None:
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})


def _bed(number: int) -> dict[str, Any]:
    patient = {"name": f"Invented, Patient {number}", "birth_date": "1951-03-09", "record_number": f"4{number:07}"}
    tubes = [{"id": f"t-{number}-{tube}", "kind": "serum-gel", "specimen": f"{number:09}{tube}"} for tube in range(4)]
    return {"id": f"v-{number}", "patient": patient, "orders": [], "tubes": tubes}


# ---- the way home --------------------------------------------------------------------------------------------------


def _drained(browser: Browser, home: Path, database_url: str | None = None) -> Iterator[Figure]:
    home.mkdir(exist_ok=True)
    server = HouseProcess(fill_house(home / "house", database_url), database_url=database_url)
    server.start()
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    tablet = Tablet(context.new_page(), server.url)
    sign_in(tablet, server)
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.until(state="quiet")
    visits, cookie = _visits(tablet), _cookie(context)
    context.set_offline(True)
    for start in range(0, QUEUED, BATCH):
        specs = [{"visit": visits[(start + n) // A_VISIT % len(visits)], "kind": "site_touched"} for n in range(BATCH)]
        tablet.record_all(specs)
    bodies = [json.dumps(event["body"]) for event in tablet.events()]
    began = time.perf_counter()
    context.set_offline(False)
    tablet.page.evaluate("void engine.tryAgain()")
    tablet.until(unsent=0, patience_ms=120_000)
    drained = time.perf_counter() - began
    context.close()
    what = f"{QUEUED} events, {A_VISIT} a visit, in letters of {BATCH}"
    yield Figure("sync_drain", drained, "s", f"{what}, Chromium to `bedside serve` on loopback, online to last answer")
    with _bare_server(home / "bare.db") as bare:
        posted = _post_from_memory(bare, bodies)
    how = (
        f"{what}; against posting the same rows from memory to a bare server that stores each letter durably, same run"
    )
    yield Figure("sync_drain_to_bare_server", drained / posted, "times", how)
    raw = _insert(home / "raw.db", bodies)
    how = f"{what}; against inserting the same rows with SQLite, WAL, FULL, one commit a letter, same run"
    yield Figure("sync_drain_to_raw_inserts", drained / raw, "times", how)
    yield from _all_at_once(server, home, visits[0], cookie)
    server.kill()


def _visits(tablet: Tablet) -> list[str]:
    visits: list[str] = tablet.page.evaluate("engine.packet().then(packet => packet.visits.map(visit => visit.id))")
    return visits


def _cookie(context: BrowserContext) -> str:
    return "; ".join(f"{one['name']}={one['value']}" for one in context.cookies())


def _all_at_once(server: HouseProcess, home: Path, visit: str, cookie: str) -> Iterator[Figure]:
    """Fifty tablets come home in the same second, as threads over plain HTTP: fifty browsers would measure browsers."""
    for tablet in range(TABLETS):
        _more_visits(server, like=visit, names=[f"v-bench-{tablet}-{n}" for n in range(EACH // A_VISIT)])
    before = _count(server)
    headers = {"X-Bedside": "1", "Content-Type": "application/json", "Cookie": cookie}
    queues = [_queue(tablet) for tablet in range(TABLETS)]
    refused: list[int] = []

    def letters(tablet: int, url: str, more: dict[str, str]) -> None:
        for start in range(0, EACH, BATCH):
            letter = {"tablet": f"bench-{tablet}", "events": queues[tablet][start : start + BATCH]}
            while (status := _post(url, letter, more)) != 200:
                refused.append(status)  # asked again, as a tablet does

    ours = _together(lambda tablet: letters(tablet, f"{server.origin}/tablet/events", headers))
    with _bare_server(home / "bare-fifty.db") as bare:
        theirs = _together(lambda tablet: letters(tablet, bare, {"Content-Type": "application/json"}))
    stored = _count(server) - before
    what = f"{TABLETS} threads, {EACH} events each in letters of {BATCH}, {A_VISIT} a visit"
    yield Figure("sync_fifty_tablets", ours, "s", what)
    yield Figure("sync_fifty_tablets_to_bare_server", ours / theirs, "times", f"{what}, same run")
    yield Figure("sync_fifty_tablets_lost", TABLETS * EACH - stored, "events", what)
    yield Figure("sync_fifty_tablets_asked_again", len(refused), "letters", what)


def _count(server: HouseProcess) -> int:
    return int(_ask(server, "SELECT count(*) FROM event")[0][0])


def _more_visits(server: HouseProcess, *, like: str, names: list[str]) -> None:
    """Visits without tubes, to write events about: a ward of hundreds of beds would take minutes to plan."""
    listed = ", ".join(f'"{field.column_name}"' for field in Visit._meta.sorted_fields if field.name != "id")
    for name in names:
        _ask(server, f"INSERT INTO visit (id, {listed}) SELECT '{name}', {listed} FROM visit WHERE id = '{like}'")


def _ask(server: HouseProcess, statement: str) -> list[Any]:
    """Straight to the server's database, past the house."""
    if server.database_url:
        with psycopg.connect(server.database_url) as database:
            told = database.execute(statement)
            return told.fetchall() if told.description else []
    with closing(peewee.sqlite3.connect(str(server.home / "bedside.db"))) as database, database:
        return list(database.execute(statement).fetchall())


def _queue(tablet: int) -> list[dict[str, Any]]:
    told = {"kind": "site_touched", "at": "2026-11-25T06:00:00.000Z", "schema": 1, "data": {}, "page": str(tablet)}
    bodies = [{**told, "visit": f"v-bench-{tablet}-{(seq - 1) // A_VISIT}"} for seq in range(1, EACH + 1)]
    return [
        {"id": f"bench-{tablet}-{seq}", "tablet": f"bench-{tablet}", "seq": seq, "body": json.dumps(body)}
        for seq, body in enumerate(bodies, start=1)
    ]


def _together(work: Callable[[int], None]) -> float:
    began = time.perf_counter()
    threads = [threading.Thread(target=work, args=(tablet,)) for tablet in range(TABLETS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return time.perf_counter() - began


def _post(url: str, message: Any, headers: dict[str, str]) -> int:
    asked = urllib.request.Request(url, json.dumps(message).encode(), headers)
    try:
        with urllib.request.urlopen(asked, timeout=120) as answer:
            answer.read()
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code


# ---- what the machine can do ---------------------------------------------------------------------------------------


@contextmanager
def _bare_server(path: Path) -> Iterator[str]:
    """The least a server can be: each letter stored in one durable commit, no questions asked."""
    app, lock = Flask("bare"), threading.Lock()
    database = _raw_database(path)

    @app.post("/")
    def store() -> Any:
        with lock, database:
            rows = [(event["id"], event["body"]) for event in request.get_json()["events"]]
            database.executemany("INSERT INTO event VALUES (?, ?)", rows)
        return jsonify(stored=len(rows))

    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=Quiet)
    running = threading.Thread(target=server.serve_forever, daemon=True)
    running.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()
    database.close()


def _raw_database(path: Path) -> sqlite3.Connection:
    database = sqlite3.connect(path, check_same_thread=False)
    database.execute("PRAGMA journal_mode = WAL").fetchall()
    database.execute("PRAGMA synchronous = FULL")
    database.execute("CREATE TABLE event (id TEXT PRIMARY KEY, body TEXT)")
    return database


def _post_from_memory(url: str, bodies: list[str]) -> float:
    events = [{"id": str(number), "body": body} for number, body in enumerate(bodies)]
    began = time.perf_counter()
    for start in range(0, len(events), BATCH):
        _post(url, {"events": events[start : start + BATCH]}, {"Content-Type": "application/json"})
    return time.perf_counter() - began


def _insert(path: Path, bodies: list[str]) -> float:
    database = _raw_database(path)
    began = time.perf_counter()
    for start in range(0, len(bodies), BATCH):
        with database:
            rows = [(str(start + place), body) for place, body in enumerate(bodies[start : start + BATCH])]
            database.executemany("INSERT INTO event VALUES (?, ?)", rows)
    took = time.perf_counter() - began
    database.close()
    return took


# ---- years later ---------------------------------------------------------------------------------------------------


def _with_years_behind(small: Path, large: Path) -> Iterator[Figure]:
    """The same two questions to a house with a thousand events behind it and to one with a million."""
    (few_page, few_sync), (many_page, many_sync) = _asked_after(small, FEW), _asked_after(large, MANY)
    what = f"median of {ASKED}, {MANY} events of earlier visits against {FEW}, in-process, same run"
    yield Figure("sync_ward_page_ms", few_page, "ms", f"median of {ASKED}, with {FEW} events behind it")
    yield Figure("sync_ward_page_years_later", many_page / few_page, "times", what)
    yield Figure("sync_answer_ms", few_sync, "ms", f"median of {ASKED} letters of 25, with {FEW} events behind it")
    yield Figure("sync_answer_years_later", many_sync / few_sync, "times", what)


def _asked_after(home: Path, events: int) -> tuple[float, float]:
    house = AHouse.made(home)
    tablet = house.tablet()
    visits = [visit["id"] for visit in tablet.packet()["visits"]]
    nurse = house.signed_in(Role.CHARGE_NURSE)
    with connected():
        _fill_up(events, like=visits[0])
        page, sync = [], []
        for number in range(ASKED):
            letter = [tablet.event("site_touched", visits[number % len(visits)]) for _ in range(A_VISIT)]
            sync.append(_timed(lambda letter=letter: tablet.send(letter)))
            page.append(_timed(lambda: nurse.get("/ward/")))
    return sorted(page)[ASKED // 2] * 1000, sorted(sync)[ASKED // 2] * 1000


def _timed(work: Callable[[], Any]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


COUNTED = "WITH RECURSIVE n(value) AS (SELECT 0 UNION ALL SELECT value + 1 FROM n WHERE value < {last}) "

OLD_VISITS = (
    "INSERT INTO visit (id, patient_id, position, needle, plan_findings, made_at) "
    "SELECT 'v-old-' || value, patient_id, position, needle, plan_findings, '{year}' "
    "FROM n, visit WHERE visit.id = '{like}'"
)
OLD_EVENTS = (
    "INSERT INTO event (id, tablet, seq, body, sealed, hash, received_at, status, visit, kind, at) "
    "SELECT 'e-old-' || value, 'old', value, {body}, {no}, 'sha256:' || value, '{year}', 'stored', "
    "'v-old-' || (value / {a_visit}), 'site_touched', '{year}' FROM n"
)
OLD_ANSWERS = (
    "INSERT INTO answer (event_id, status, findings, answered_at) "
    "SELECT id, 'stored', '[]', received_at FROM event WHERE tablet = 'old'"
)


def _fill_up(events: int, like: str) -> None:
    """Earlier visits with their events and answers, put straight into the tables."""
    body, no = ("lpad(value::text, 400, '0')", "false") if on_postgres() else ("hex(zeroblob(200))", "0")
    words = {"year": LAST_YEAR, "like": like, "a_visit": A_VISIT, "body": body, "no": no}
    with writing():
        db.execute_sql((COUNTED + OLD_VISITS).format(last=events // A_VISIT, **words))
        db.execute_sql((COUNTED + OLD_EVENTS).format(last=events - 1, **words))
        db.execute_sql(OLD_ANSWERS)
    if on_postgres():
        db.execute_sql("ANALYZE")


def _weight() -> Figure:
    """The whole client as a tablet keeps it: each file compressed by itself, as a server would send it."""
    build = read_build(folder("static"))
    kept = [build.files[name].content for name in build.kept if name.endswith((".js", ".css"))]
    kept.append(build.files["sw.js"].content)
    size = sum(len(gzip.compress(content, 9)) for content in kept)
    how = f"{len(kept)} scripts and style sheets of the tablet and its worker, each gzip -9"
    return Figure("sync_client_bytes", size / 1000, "kB", how)
