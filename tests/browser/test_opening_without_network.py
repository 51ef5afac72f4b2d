"""The app opens in a dead spot, from files of one version; nothing of a patient lies among them."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Worker

from .stand_in import StandIn, copy_static, make_packet
from .tablet import Tablet, open_tablet

CACHED = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    for (const request of await (await caches.open(name)).keys()) found.push(new URL(request.url).pathname);
  }
  return found.sort();
}"""

FETCH_IN_WORKER = "() => fetch('/tablet/hello', {headers: {'X-Bedside': '1'}}).then(() => 'answered', () => 'refused')"


@pytest.fixture
def own_files(tmp_path: Path) -> Path:
    """Files this test may change."""
    return copy_static(tmp_path / "static")


@pytest.fixture
def changing(own_files: Path) -> StandIn:
    """A stand-in whose files can be changed between two starts."""
    house = StandIn(own_files)
    house.packet = make_packet()
    house.start()
    yield house
    house.stop()


def worker_of(profile: BrowserContext) -> Worker:
    return profile.service_workers[0]


def test_with_the_server_gone_the_app_opens_and_records_and_later_everything_arrives_once(
    tablet: Tablet, stand_in: StandIn, profile: BrowserContext
):
    tablet.opens_offline()
    stand_in.stop()
    assert worker_of(profile).evaluate(FETCH_IN_WORKER) == "refused"

    tablet.reload()
    tablet.record()
    tablet.record()
    tablet.reload()
    tablet.record()

    assert tablet.until(unsent=3, state="waiting")["house"] == "h-stand-in"
    assert tablet.page.evaluate("engine.packet()")["id"] == "k-1"
    stand_in.start()
    tablet.all_sent()
    assert [event["seq"] for event in stand_in.stored.values()] == [1, 2, 3]
    assert sum(len(batch) for batch in stand_in.batches) == 3


def test_with_the_network_off_the_app_opens_too_and_really_is_off(
    tablet: Tablet, stand_in: StandIn, profile: BrowserContext
):
    tablet.opens_offline()
    tablet.page.wait_for_load_state("networkidle")  # nothing of before may be on its way still
    profile.set_offline(True)
    hits = list(stand_in.doors_asked)

    tablet.reload()
    tablet.record()
    tablet.until(unsent=1, state="waiting")

    assert worker_of(profile).evaluate(FETCH_IN_WORKER) == "refused"
    assert stand_in.doors_asked == hits
    profile.set_offline(False)
    tablet.all_sent()
    assert len(stand_in.stored) == 1


def test_only_the_shell_is_kept_and_nothing_of_a_patient(tablet: Tablet, stand_in: StandIn):
    tablet.opens_offline()
    tablet.record()
    tablet.all_sent()
    tablet.page.evaluate("engine.refreshPacket()")

    kept = tablet.page.evaluate(CACHED)

    assert "/tablet/" in kept
    assert any(path.endswith("/js/tablet/engine.js") for path in kept)
    assert [path for path in kept if path != "/tablet/" and not path.startswith("/static/")] == []


def test_the_first_load_is_kept_without_a_second_one(tablet: Tablet, stand_in: StandIn, profile: BrowserContext):
    tablet.opens_offline()
    tablet.page.close()
    stand_in.stop()

    again = open_tablet(profile, stand_in.url)

    assert again.status()["house"] == "h-stand-in"


def test_a_file_that_is_not_the_one_listed_keeps_nothing_at_all(profile: BrowserContext, stand_in: StandIn):
    stand_in.faults.spoiled = "css/tokens.css"

    tablet = open_tablet(profile, stand_in.url)

    tablet.until(opensOffline=None, state="quiet")
    outcome = tablet.page.evaluate(
        """() => navigator.serviceWorker.getRegistration('/tablet/').then(async found => {
          const worker = found?.installing;
          if (worker) await new Promise(done => worker.addEventListener('statechange', done, {once: true}));
          return worker?.state ?? 'redundant';
        })"""
    )
    assert outcome == "redundant"
    assert tablet.page.evaluate(CACHED) == []


def test_a_new_version_waits_for_a_tap_and_finds_what_was_unsent(
    profile: BrowserContext, changing: StandIn, own_files: Path
):
    tablet = open_tablet(profile, changing.url)
    tablet.opens_offline()
    old = tablet.page.evaluate("engine.build")
    changing.stop()
    saved = tablet.record()
    (own_files / "css" / "tokens.css").write_text((own_files / "css" / "tokens.css").read_text() + "\n/* new */\n")
    changing.faults.signed_in = False  # so that the event is still unsent when the new version comes
    changing.start()

    tablet.reload()
    tablet.until(update="waiting")

    assert tablet.page.evaluate("engine.build") == old
    assert tablet.page.evaluate("engine.mayReload = () => false, engine.takeOver()") is False
    with tablet.page.expect_navigation():
        assert tablet.page.evaluate("engine.mayReload = () => true, engine.takeOver()")
    tablet.ready()
    assert tablet.page.evaluate("engine.build") != old
    assert tablet.status()["unsent"] == 1
    changing.faults.signed_in = True
    tablet.all_sent()
    assert list(changing.stored) == [saved["id"]]
    assert len({path.split("/")[2] for path in tablet.page.evaluate(CACHED) if path.startswith("/static/")}) == 1


def test_a_page_never_mixes_files_of_two_versions(profile: BrowserContext, changing: StandIn, own_files: Path):
    tablet = open_tablet(profile, changing.url)
    tablet.opens_offline()
    old = tablet.page.evaluate("engine.build")
    changing.stop()
    (own_files / "js" / "tablet" / "main.js").write_text("window.engine = null;\n")
    (own_files / "js" / "tablet" / "engine.js").unlink()
    changing.start()

    tablet.reload()

    loaded = tablet.page.evaluate(
        "performance.getEntriesByType('resource').map(entry => entry.name).filter(name => name.includes('/static/'))"
    )
    assert loaded
    assert [name for name in loaded if f"/static/{old}/" not in name] == []


def test_if_the_browser_drops_the_files_the_worker_says_so_and_mends_itself(tablet: Tablet, stand_in: StandIn):
    tablet.opens_offline()
    tablet.page.evaluate("caches.keys().then(names => Promise.all(names.map(name => caches.delete(name))))")
    stand_in.stop()

    tablet.page.goto(stand_in.url)
    assert "nothing needs to be entered twice" in tablet.page.text_content("body")

    stand_in.start()
    tablet.open()
    tablet.page.wait_for_function(
        """async () => {
          const [name] = await caches.keys();
          return name && (await (await caches.open(name)).keys()).length > 9;
        }"""
    )
    stand_in.stop()
    tablet.reload()
    assert tablet.status()["house"] == "h-stand-in"


def test_the_page_runs_under_its_own_rules_without_one_complaint(tablet: Tablet):
    tablet.opens_offline()
    tablet.record()
    tablet.all_sent()
    tablet.reload()

    assert tablet.violations == []
    assert tablet.page.evaluate("typeof trustedTypes.createPolicy") == "function"
    refused = tablet.page.evaluate(
        """() => navigator.serviceWorker.register('/sw.js').then(() => 'taken', error => error.name)"""
    )
    assert refused == "TypeError"


def test_a_browser_that_cannot_store_is_told_and_offers_no_entry(profile: BrowserContext, stand_in: StandIn):
    profile.add_init_script("Object.defineProperty(globalThis, 'indexedDB', {value: undefined})")
    page = profile.new_page()
    page.goto(stand_in.url)

    assert page.evaluate("engine.ready") is False
    assert page.evaluate("engine.missing.map(lack => lack.what)") == ["storage on the tablet"]
    refused = page.evaluate("engine.record({visit: 'v', kind: 'arrived'}).catch(error => error.name)")
    assert refused == "StoreBroken"
