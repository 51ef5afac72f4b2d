"""Saved means on the disk: before the screen moves, whole, once, and in an order without gaps."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

from playwright.sync_api import BrowserContext

from .stand_in import StandIn, hash_of
from .tablet import Tablet


def test_an_event_carries_what_the_contract_names(tablet: Tablet):
    saved = tablet.record(kind="tourniquet_on", data={"side": "left"})

    body = saved["body"]
    assert list(body) == [
        "visit", "kind", "at", "offset_min", "server_skew_ms", "page", "mono_ms", "by", "rulebook", "schema", "data",
    ]  # fmt: skip
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", body["at"])
    assert (body["visit"], body["kind"], body["data"]) == ("v-kaarina", "tourniquet_on", {"side": "left"})
    assert (body["by"], body["rulebook"]) == ("p-ines", hash_of('{"limits":{}}'))
    assert body["schema"] == 1
    assert isinstance(body["mono_ms"], int)


def test_what_was_put_in_afterwards_says_so(tablet: Tablet):
    saved = tablet.record(kind="tube_filled", data={"tube": "t-1"}, after=True)

    assert saved["body"]["data"] == {"tube": "t-1", "after": True}


def test_a_saved_event_is_there_after_a_reload(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.signed_in = False
    saved = tablet.record()

    tablet.reload()

    assert [event["id"] for event in tablet.events()] == [saved["id"]]
    assert tablet.status()["unsent"] == 1


def test_the_numbers_of_a_tablet_have_no_gaps_even_from_two_tabs(tablet: Tablet, another_tab: Callable[[], Tablet]):
    other = another_tab()
    many = [{"visit": "v-kaarina", "kind": "arrived"}] * 5

    for tab in (tablet, other):
        tab.page.evaluate(
            "specs => { window.going = Promise.all([1,2,3,4].map(() => engine.recordAll(specs))); }", many
        )
    for tab in (tablet, other):
        tab.page.evaluate("going.then(() => true)")

    events = tablet.events()
    assert [event["seq"] for event in events] == list(range(1, 41))
    assert len({event["id"] for event in events}) == 40
    assert len({event["tablet"] for event in events}) == 1


def test_events_of_one_moment_are_saved_all_or_none(tablet: Tablet):
    answer = tablet.record_all([{"visit": "v-kaarina", "kind": "needle_out"}, {"visit": "v-kaarina", "kind": ""}])

    assert answer["refused"] == "BadEvent"
    assert tablet.events() == []


def test_events_of_one_tap_carry_one_moment(tablet: Tablet):
    saved = tablet.record_all([{"visit": "v-a", "kind": "needle_out"}, {"visit": "v-a", "kind": "pressure_on"}])[
        "saved"
    ]

    assert saved[0]["body"]["mono_ms"] == saved[1]["body"]["mono_ms"]
    assert [event["seq"] for event in saved] == [1, 2]


def test_a_double_tap_saves_once(tablet: Tablet):
    twice = [{"visit": "v-kaarina", "kind": "arrived", "id": "11111111-1111-4111-8111-111111111111"}]

    first = tablet.record_all(twice)["saved"][0]
    second = tablet.record_all(twice)["saved"][0]
    after = tablet.record()

    assert second["body"] == first["body"]
    assert [event["seq"] for event in tablet.events()] == [1, 2]
    assert after["seq"] == 2


def test_a_full_tablet_says_so_and_keeps_what_it_had(profile: BrowserContext, stand_in: StandIn):
    tablet = Tablet(profile.new_page(), stand_in.url)
    limit_quota(tablet, 2_000_000)
    tablet.open()
    stand_in.faults.signed_in = False
    kept = tablet.record()

    answer = tablet.record_all([{"visit": "v-kaarina", "kind": "arrived", "data": {"note": "x" * 8_000_000}}])

    assert answer["refused"] == "QuotaFull"
    assert answer["says"] == "This tablet is full. Nothing was saved."
    assert "paper" in answer["do_next"]
    assert [event["id"] for event in tablet.events()] == [kept["id"]]


def limit_quota(tablet: Tablet, size: int) -> None:
    """Before the page is opened: the browser measures the space once and then counts down by itself."""
    devtools = tablet.page.context.new_cdp_session(tablet.page)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": tablet.url.removesuffix("/tablet/"), "quotaSize": size})


def test_a_connection_the_browser_lost_is_opened_again_once(tablet: Tablet):
    tablet.page.evaluate(
        """() => {
          const real = IDBDatabase.prototype.transaction;
          IDBDatabase.prototype.transaction = function () {
            IDBDatabase.prototype.transaction = real;
            throw new DOMException("Connection to Indexed Database server lost", "InvalidStateError");
          };
        }"""
    )

    saved = tablet.record()

    assert [event["id"] for event in tablet.events()] == [saved["id"]]


def test_a_store_that_stays_broken_is_said_not_swallowed(tablet: Tablet):
    tablet.page.evaluate(
        """() => { IDBDatabase.prototype.transaction = () => { throw new DOMException("gone", "UnknownError"); }; }"""
    )

    answer = tablet.record_all([{"visit": "v-kaarina", "kind": "arrived"}])

    assert answer["refused"] == "StoreBroken"


def test_a_transaction_refuses_a_body_that_waits(tablet: Tablet):
    refused = tablet.module(
        "store.js",
        """async ({ Store }) => {
          const store = new Store("h-trial");
          try {
            await store.write(["drafts"], async open => { open("drafts").put({key: "a", value: 1}); });
          } catch (error) {
            const kept = await store.read(["drafts"], (open, result) => {
              open("drafts").count().onsuccess = event => result(event.target.result);
            });
            return [error.name, kept];
          }
        }""",
    )

    assert refused == ["TypeError", 0]


def test_success_of_a_request_is_not_yet_saved(tablet: Tablet):
    """The put succeeds and the transaction is aborted after it: that must not be called saved."""
    outcome = tablet.module(
        "store.js",
        """async ({ Store }) => {
          const store = new Store("h-trial");
          const body = open => {
            const request = open("drafts").put({key: "a", value: 1});
            request.onsuccess = () => request.transaction.abort();
          };
          return store.write(["drafts"], body).then(() => "saved", error => error.name);
        }""",
    )

    assert outcome == "StoreBroken"


def test_writes_ask_for_the_disk_and_not_for_the_cache(tablet: Tablet):
    tablet.page.evaluate(
        """() => {
          window.asked = [];
          const real = IDBDatabase.prototype.transaction;
          IDBDatabase.prototype.transaction = function (stores, mode, options) {
            const made = real.call(this, stores, mode, options);
            if (mode === "readwrite") asked.push(made.durability);
            return made;
          };
        }"""
    )

    tablet.record()

    assert set(tablet.page.evaluate("asked")) == {"strict"}


def test_a_newer_app_in_another_window_is_said_and_not_waited_for(tablet: Tablet):
    tablet.page.evaluate(
        """() => new Promise((resolve, reject) => {
          const request = indexedDB.open("bedside-h-stand-in", 3);
          request.onsuccess = () => { request.result.close(); resolve(); };
          request.onerror = () => reject(request.error);
        })"""
    )

    answer = tablet.record_all([{"visit": "v-kaarina", "kind": "arrived"}])

    assert answer["refused"] == "StoreOutdated"
    assert tablet.status()["trouble"]["name"] == "StoreOutdated"


def test_a_store_that_vanished_is_noticed(tablet: Tablet):
    tablet.record()
    tablet.all_sent()
    lost = tablet.status()["tablet"]
    # Another page of the same origin drops the database, as a browser short of disk does.
    tablet.page.goto(tablet.url.replace("/tablet/", "/manifest.webmanifest"))
    tablet.page.evaluate(
        "new Promise(done => { indexedDB.deleteDatabase('bedside-h-stand-in').onsuccess = () => done(); })"
    )

    tablet.open()

    status = tablet.status()
    assert status["lost"] == {"tablet": lost, "seq": 1}
    assert status["tablet"] != lost
    tablet.record()
    tablet.reload()
    assert tablet.status()["lost"] == {"tablet": lost, "seq": 1}
    tablet.page.evaluate("engine.lossSeen()")
    tablet.reload()
    assert tablet.status()["lost"] is None


def test_a_draft_outlives_a_reload(tablet: Tablet):
    tablet.page.evaluate("engine.drafts.save('incident v-kaarina', {kind: 'faint', note: 'pale, sat down'})")

    tablet.reload()

    assert tablet.page.evaluate("engine.drafts.read('incident v-kaarina')") == {
        "kind": "faint",
        "note": "pale, sat down",
    }
    tablet.page.evaluate("engine.drafts.drop('incident v-kaarina')")
    assert tablet.page.evaluate("engine.drafts.read('incident v-kaarina')") is None


def test_what_is_sent_are_the_very_bytes_that_were_saved(tablet: Tablet, stand_in: StandIn):
    saved = tablet.record(data={"note": "ä ł 血 — “so”", "volume_ml": 2.50})

    tablet.all_sent()

    (sent,) = stand_in.sent
    assert set(sent) == {"id", "tablet", "seq", "sealed"}
    opened = stand_in.stored[saved["id"]]
    assert json.loads(opened["body"]) == saved["body"]
    assert "ä ł 血 — “so”" in opened["body"]


def test_an_old_answered_visit_is_forgotten_and_an_unsent_one_never(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.statuses["v-odd"] = "id-reused"
    tablet.record("v-sent")
    tablet.record("v-odd")
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(unsent=1, heldBack=1)
    eight_days_on = """async ({ Store }, name) => {
      const { Outbox } = await import(`/static/${engine.build}/js/tablet/outbox.js`);
      const outbox = new Outbox(new Store(name), engine.status.tablet);
      await outbox.forgetOld(Date.now() + 8 * 24 * 3600 * 1000);
    }"""

    tablet.module("store.js", eight_days_on, "h-stand-in")

    assert [event["body"]["visit"] for event in tablet.events()] == ["v-odd"]
