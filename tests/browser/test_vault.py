"""What lies on a tablet, and who can read it. The ids in the names are those of the trust requirements."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext

from .stand_in import StandIn, hash_of, make_packet
from .tablet import PIN, Tablet
from .waiting import wait_until

TOMASZ = {"id": "p-tomasz", "name": "Tomasz Wrona", "role": "phlebotomist"}

# A clock that can be set, and stays set through a reload.
SET_CLOCK = """{
  const wall = Date.now;
  Date.now = () => wall() + Number(sessionStorage.getItem("ahead") ?? 0);
}"""
AHEAD = "ms => sessionStorage.setItem('ahead', Number(sessionStorage.getItem('ahead') ?? 0) + ms)"

TRY = """([person, pin]) => engine.unlock(person, pin)
  .then(() => "open", error => [error.why, error.triesLeft ?? null, error.waitMs ?? 0])"""

ROWS = """store => new Promise((done, failed) => {
  const request = indexedDB.open("bedside-h-stand-in");
  request.onerror = () => failed(request.error);
  request.onsuccess = () => {
    const rows = request.result.transaction(store).objectStore(store).getAll();
    rows.onsuccess = () => { request.result.close(); done(rows.result); };
  };
})"""

CHANGE_PEOPLE = """change => new Promise(done => {
  indexedDB.open("bedside-h-stand-in").onsuccess = ({ target }) => {
    const transaction = target.result.transaction("people", "readwrite");
    const rows = transaction.objectStore("people").getAll();
    rows.onsuccess = () => rows.result.forEach(row => transaction.objectStore("people").put(change(row)));
    transaction.oncomplete = () => { target.result.close(); done(); };
  };
})"""

CHANGE = """change => new Promise(done => {
  indexedDB.open("bedside-h-stand-in").onsuccess = ({ target }) => {
    const transaction = target.result.transaction("events", "readwrite");
    const rows = transaction.objectStore("events").getAll();
    rows.onsuccess = () => {
      for (const row of change(rows.result)) transaction.objectStore("events").put(row);
    };
    transaction.oncomplete = () => { target.result.close(); done(); };
  };
})"""


@pytest.fixture
def tablet(profile: BrowserContext, stand_in: StandIn) -> Iterator[Tablet]:
    """Ines's tablet, with a clock that can be set."""
    profile.add_init_script(SET_CLOCK)
    held = Tablet(profile.new_page(), stand_in.url).open()
    held.page.evaluate("engine.refreshPacket()")
    yield held


def tries(tablet: Tablet) -> int:
    return rows(tablet, "people")[0]["tries"]


def rows(tablet: Tablet, store: str) -> list[dict[str, Any]]:
    return json.loads(tablet.page.evaluate(f"store => ({ROWS})(store).then(rows => JSON.stringify(rows))", store))


def attempt(tablet: Tablet, pin: str = "111222", person: str = "p-ines") -> Any:
    return tablet.page.evaluate(TRY, [person, pin])


def use_up(tablet: Tablet) -> None:
    """Ten wrong PINs, as fast as the waits allow; nothing is derived for the first nine."""
    tablet.page.evaluate(f"({CHANGE_PEOPLE})(row => ({{ ...row, tries: 9, wait_until: null }}))")
    assert attempt(tablet)[0] == "gone"


def five_minutes_pass(tablet: Tablet) -> None:
    tablet.page.evaluate(AHEAD, 5 * 60_000)


def change_events(tablet: Tablet, change: str) -> None:
    """Put back the rows of events that `change` makes of them."""
    tablet.page.evaluate(f"() => ({CHANGE})({change})")


def lock(tablet: Tablet) -> None:
    assert tablet.page.evaluate("engine.lock()")


# --- the PIN ----------------------------------------------------------------------------------------------------------


def test_T_3_3_ten_wrong_pins_wipe_the_round_and_never_the_unsent(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    for _ in range(12):
        tablet.record()
    lock(tablet)

    told = []
    for _ in range(10):
        told.append(attempt(tablet))
        five_minutes_pass(tablet)

    assert [each[0] for each in told] == ["wrong"] * 9 + ["gone"]
    assert [each[1] for each in told[:9]] == [9, 8, 7, 6, 5, 4, 3, 2, 1]
    assert attempt(tablet, PIN)[0] == "gone"
    assert tablet.status()["unsent"] == 12
    assert rows(tablet, "rounds") == [] and rows(tablet, "packets") == []
    stand_in.start()
    tablet.all_sent()
    assert len(stand_in.stored) == 12
    wait_until(lambda: stand_in.pins_used_up, "the house was told")
    (letter,) = stand_in.pins_used_up
    assert (letter["person"], letter["signed"]) == ("p-ines", tablet.status()["tablet"])
    assert sorted(letter) == ["at", "person", "signed"]  # and nothing of a patient


def choose_a_pin(tablet: Tablet) -> Any:
    """What somebody is told who chooses a new PIN for Ines; or "open"."""
    return tablet.page.evaluate(
        "engine.setPin({ id: 'p-ines', name: 'Ines Baptista' }, '846203').then(() => 'open', error => error.says)"
    )


def test_T_3_3_whoever_tried_ten_pins_cannot_choose_a_new_one(tablet: Tablet, stand_in: StandIn):
    lock(tablet)
    stand_in.stop()

    use_up(tablet)

    assert tablet.status()["person"] is None and tablet.status()["freshSignIn"] is False
    assert "not just signed in" in choose_a_pin(tablet)


def test_without_the_house_its_word_that_somebody_signed_in_grows_old(tablet: Tablet, stand_in: StandIn):
    lock(tablet)
    stand_in.stop()
    assert tablet.status()["freshSignIn"] is True

    tablet.page.evaluate(AHEAD, 151_000)
    late = choose_a_pin(tablet)
    tablet.page.evaluate(AHEAD, -151_000)

    assert "not just signed in" in late and tablet.status()["freshSignIn"] is False
    assert "not just signed in" in choose_a_pin(tablet)  # also after the clock was set back
    stand_in.start()
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(freshSignIn=True)
    assert choose_a_pin(tablet) == "open"


def test_T_3_3_that_ten_pins_were_wrong_is_told_until_the_house_has_heard_it_and_then_no_more(
    tablet: Tablet, stand_in: StandIn
):
    tablet.opens_offline()
    lock(tablet)
    stand_in.stop()
    use_up(tablet)
    tablet.page.reload()
    tablet.starts()

    stand_in.start()
    wait_until(lambda: stand_in.pins_used_up, "the house was told")
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(state="quiet")

    assert len(stand_in.pins_used_up) == 1
    assert next(row["value"] for row in rows(tablet, "meta") if row["key"] == "pins_used_up") == []


def test_T_3_3_the_waits_grow_and_count_before_the_right_pin_too(tablet: Tablet):
    lock(tablet)

    waits = []
    for _ in range(6):
        waits.append(attempt(tablet)[2])
        five_minutes_pass(tablet)

    assert waits == [0, 0, 5_000, 30_000, 60_000, 300_000]
    tablet.page.evaluate(AHEAD, -60_000)
    assert attempt(tablet, PIN)[0] == "wait"
    five_minutes_pass(tablet)
    assert attempt(tablet, PIN) == "open"
    assert tries(tablet) == 0


def test_T_3_3_killing_the_page_between_tries_gives_none_back(tablet: Tablet):
    counted = []
    for number in range(1, 11):
        tablet.page.reload()
        tablet.starts()
        tablet.page.evaluate("void engine.unlock('p-ines', '111222').catch(() => {})")
        counted_on_disk = f"async () => (await ({ROWS})('people'))[0].tries >= {number}"
        tablet.page.wait_for_function(counted_on_disk)
        counted.append(tries(tablet))
        five_minutes_pass(tablet)

    assert counted == list(range(1, 11))
    tablet.page.reload()
    tablet.starts()
    assert attempt(tablet, PIN)[0] in ("gone", "wrong") or tries(tablet) > 10
    assert attempt(tablet, PIN)[0] == "gone"


def test_T_63B4_a_pin_anybody_would_try_first_is_not_taken(tablet: Tablet):
    easy = ("12345", "123456", "987654", "111111", "121212", "739739", "12a456", "890123")
    good = ("739215", "73921500")

    why = {pin: tablet.module("vault/pin.js", "({ weakness }, pin) => weakness(pin)", pin) for pin in easy + good}

    assert [pin for pin, said in why.items() if said is None] == list(good)


def test_T_3_2_the_pin_is_nowhere_and_a_new_one_touches_one_row(tablet: Tablet, stand_in: StandIn):
    before = json.dumps(rows(tablet, "people"))
    assert PIN not in before

    assert PIN not in "".join(json.dumps(letter) for letter in stand_in.letters)
    assert all("pin" not in path for path in stand_in.doors_asked)


# --- what lies in the store -------------------------------------------------------------------------------------------


def test_T_V14_3_3_nothing_in_the_store_can_be_read(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    tablet.record(data={"note": "Kaarina felt faint"})
    tablet.page.evaluate("engine.drafts.save('note v-kaarina', {text: 'Kaarina felt faint'})")

    names = ("events", "outbox", "meta", "packets", "pins", "spares_taken", "drafts", "people", "rounds")
    text = json.dumps([rows(tablet, name) for name in names])

    assert "v-kaarina" not in text
    for told in ("Ojala", "Kaarina", "1951-03-09", "40031977", "faint", "arrived"):
        assert told not in text


def test_T_V11_2_no_key_in_the_store_can_open_what_is_sealed_or_be_read_out(tablet: Tablet):
    tablet.record()

    found = tablet.page.evaluate(
        f"""async () => {{
          const device = (await ({ROWS})("meta")).find(row => row.key === "device").value;
          const keys = [device.pair.privateKey, device.pair.publicKey, device.share];
          return Promise.all(keys.map(async key => ({{
            uses: key.usages, extractable: key.extractable,
            out: await crypto.subtle.exportKey(key.type === "private" ? "pkcs8" : "raw", key)
              .then(() => true, () => false),
          }})));
        }}"""
    )

    assert [key["uses"] for key in found] == [["sign"], ["verify"], ["sign"]]
    assert [key["out"] for key in found] == [False, True, False]  # the public one may be known


def test_T_V11_2_a_sealed_event_cannot_be_opened_with_anything_the_tablet_holds(tablet: Tablet, stand_in: StandIn):
    """Every byte string of the store, while unlocked, tried as the key of the seal."""
    stand_in.stop()
    tablet.record()

    opened = tablet.page.evaluate(
        f"""async () => {{
          const all = await Promise.all(["events", "meta", "people", "rounds", "packets"].map({ROWS}));
          const strings = [];
          const walk = thing => {{
            if (thing instanceof Uint8Array) strings.push(thing);
            else if (thing instanceof CryptoKey) return;
            else if (thing && typeof thing === "object") Object.values(thing).forEach(walk);
          }};
          walk(all);
          const sealed = Uint8Array.from(atob(all[0][0].sealed), letter => letter.charCodeAt(0));
          const rest = sealed.slice(74);
          let tried = 0;
          for (const bytes of strings.filter(each => each.length >= 32)) {{
            const key = await crypto.subtle.importKey("raw", bytes.slice(0, 32), "AES-GCM", false, ["decrypt"]);
            tried += 1;
            const how = {{ name: "AES-GCM", iv: rest.slice(0, 12) }};
            if (await crypto.subtle.decrypt(how, key, rest.slice(12)).then(() => true, () => false)) return "opened";
          }}
          return tried;
        }}"""
    )

    assert opened >= 4


def test_T_V11_3_one_flipped_bit_is_quarantined_and_said_and_the_sealed_one_goes_home(
    tablet: Tablet, stand_in: StandIn
):
    tablet.opens_offline()
    stand_in.stop()
    damaged, whole = tablet.record("v-kaarina"), tablet.record("v-other")
    its = f"rows.find(each => each.id === '{damaged['id']}')"
    change_events(tablet, f"rows => {{ const row = {its}; row.ours.ct[5] ^= 1; return [row]; }}")

    tablet.reload()

    assert [event["id"] for event in tablet.events()] == [whole["id"]]
    assert tablet.status()["damaged"] == 1
    stand_in.start()
    tablet.all_sent()
    assert set(stand_in.stored) == {damaged["id"], whole["id"]}


def test_T_integrity_two_records_swapped_between_patients_are_both_refused(tablet: Tablet, stand_in: StandIn):
    tablet.opens_offline()
    stand_in.stop()
    tablet.record("v-kaarina")
    tablet.record("v-other")
    swap = "([a, b]) => { [a.ours, b.ours] = [b.ours, a.ours]; return [a, b]; }"
    change_events(tablet, swap)

    tablet.reload()

    assert tablet.events() == []
    assert tablet.status()["damaged"] == 2


def test_T_V11_3_4_every_record_has_a_nonce_of_its_own_and_a_new_round_a_new_key(tablet: Tablet, stand_in: StandIn):
    tablet.record_all([{"visit": "v-kaarina", "kind": "arrived"}] * 100)
    stand_in.packet = make_packet(2, id="k-next-round")
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.record("v-kaarina")

    events = rows(tablet, "events")

    assert len({json.dumps(event["ours"]["iv"]) for event in events}) == 101
    assert len({event["ours"]["kid"] for event in events}) == 2


# --- the lease --------------------------------------------------------------------------------------------------------


def lasting(minutes: int, tablet: Tablet) -> dict[str, Any]:
    until = tablet.page.evaluate("minutes => new Date(Date.now() + minutes * 60000).toISOString()", minutes)
    return make_packet(2, until=until)


def test_T_3_4_a_round_cannot_be_read_after_its_lease(tablet: Tablet, stand_in: StandIn):
    stand_in.packet = lasting(60, tablet)
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.opens_offline()
    stand_in.stop()
    tablet.page.evaluate(AHEAD, 61 * 60_000)

    tablet.reload()

    assert tablet.page.evaluate("engine.packet()") is None
    assert rows(tablet, "packets") == [] and rows(tablet, "rounds") == []


def test_T_3_4_the_lease_never_ends_under_a_visit_that_has_begun(tablet: Tablet, stand_in: StandIn):
    stand_in.packet = lasting(60, tablet)
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.opens_offline()
    stand_in.stop()
    tablet.record("v-kaarina")
    tablet.page.evaluate(AHEAD, 61 * 60_000)

    tablet.reload()
    assert tablet.page.evaluate("engine.packet().then(packet => packet.visits.length)") == 1
    tablet.record("v-kaarina", "visit_ended", data={"outcome": "away"})
    tablet.reload()

    assert tablet.page.evaluate("engine.packet()") is None
    assert tablet.status()["unsent"] == 2


def test_T_3_4_a_round_long_over_is_wiped_although_nobody_unlocks(tablet: Tablet, stand_in: StandIn):
    stand_in.packet = lasting(60, tablet)
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.opens_offline()
    stand_in.stop()
    tablet.record("v-kaarina")
    tablet.page.evaluate(AHEAD, 13 * 3600_000 + 60_000)

    tablet.page.reload()
    tablet.starts()

    assert rows(tablet, "packets") == [] and rows(tablet, "rounds") == []
    assert tablet.status()["unsent"] == 1


def test_T_3_4_a_clock_set_back_a_day_gains_nothing_and_is_said(tablet: Tablet, stand_in: StandIn):
    stand_in.packet = lasting(60, tablet)
    tablet.page.evaluate("engine.refreshPacket()")
    tablet.opens_offline()
    stand_in.stop()
    tablet.page.evaluate(AHEAD, 50 * 60_000)
    tablet.reload()  # ten minutes before the end: seen
    tablet.page.evaluate(AHEAD, -24 * 3600_000)

    tablet.reload()

    assert tablet.status()["clockSetBack"] is True
    tablet.page.evaluate(AHEAD, 24 * 3600_000 + 11 * 60_000)
    tablet.reload()
    assert tablet.page.evaluate("engine.packet()") is None


# --- two people, hand-back, revocation --------------------------------------------------------------------------------


def test_T_164_312_two_people_on_one_tablet_see_each_their_own_round(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.signed_in = False
    hers = tablet.record("v-kaarina")
    lock(tablet)
    stand_in.person, stand_in.packet = TOMASZ, make_packet(1, id="k-2", by="p-tomasz")
    stand_in.packet["visits"][0]["id"] = "v-other"
    stand_in.faults.signed_in = True
    tablet.unlock(TOMASZ, "482916")
    tablet.page.evaluate("engine.refreshPacket()")

    his = tablet.record("v-other")
    tablet.all_sent()

    assert [event["id"] for event in tablet.events()] == [his["id"]]
    assert tablet.page.evaluate("engine.packet().then(packet => packet.id)") == "k-2"
    assert json.loads(stand_in.stored[hers["id"]]["body"])["by"] == "p-ines"
    assert json.loads(stand_in.stored[his["id"]]["body"])["by"] == "p-tomasz"
    lock(tablet)
    tablet.unlock()
    assert [event["id"] for event in tablet.events()] == [hers["id"]]
    assert tablet.page.evaluate("engine.packet().then(packet => packet.id)") == "k-1"


def test_somebody_elses_round_is_not_taken_for_whoever_has_unlocked(tablet: Tablet, stand_in: StandIn):
    stand_in.person, stand_in.packet = TOMASZ, make_packet(7, id="k-2", by="p-tomasz")

    refused = tablet.page.evaluate("engine.refreshPacket().then(() => 'taken', error => error.name)")

    assert refused == "SignInNeeded"
    assert tablet.page.evaluate("engine.packet().then(packet => packet.id)") == "k-1"


def test_T_164_310_handed_back_it_holds_no_patients_and_so_many_unsent(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    tablet.record()
    tablet.record()

    receipt = tablet.page.evaluate("engine.handBack()")

    assert receipt == {"patients": 0, "unsent": 2}
    for store in ("people", "rounds", "packets", "pins", "drafts", "spares_taken"):
        assert rows(tablet, store) == []
    assert all(row["ours"] is None for row in rows(tablet, "events"))
    stand_in.start()
    tablet.all_sent()
    assert rows(tablet, "events") == []
    wait_until(lambda: len(stand_in.handed_back) == 2, "the house was told again")
    assert stand_in.handed_back == [{"unsent": "2"}, {"unsent": "0"}]  # only the second one closes the round
    tablet.page.wait_for_function("() => engine.status.handedBack?.[0]?.closed")


def test_a_tablet_that_carries_a_round_again_says_no_more_that_it_was_handed_back(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    tablet.record()
    tablet.page.evaluate("engine.handBack()")
    stand_in.faults.refuse = [503] * 50
    stand_in.start()
    wait_until(lambda: stand_in.handed_back == [{"unsent": "1"}], "the house was told")
    tablet.unlock()
    tablet.page.evaluate("engine.refreshPacket()")
    stand_in.faults.refuse = []

    tablet.all_sent()

    assert all(row["key"] != "handed_back" for row in rows(tablet, "meta"))
    assert stand_in.handed_back == [{"unsent": "1"}]


def test_T_3_4_nothing_is_wiped_under_a_visit_that_has_begun(tablet: Tablet, stand_in: StandIn):
    tablet.record()
    stand_in.revoked = True
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(revoked=True)
    assert len(tablet.events()) == 1
    assert tablet.record(kind="needle_in")["seq"] == 2

    tablet.record(kind="visit_ended", data={"outcome": "collected"})
    tablet.page.evaluate("engine.tryAgain()")

    tablet.until(lock="locked", unsent=0)
    assert rows(tablet, "people") == [] and rows(tablet, "packets") == []
    assert len(stand_in.stored) == 3


def test_T_3_4_a_revoked_tablet_is_wiped_at_first_contact_and_its_events_go_home(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    for _ in range(3):
        tablet.record()
    tablet.record(kind="visit_ended", data={"outcome": "away"})
    stand_in.revoked = True

    stand_in.start()
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(revoked=True, unsent=0)

    assert len(stand_in.stored) == 4
    assert rows(tablet, "rounds") == [] and rows(tablet, "packets") == []
    assert attempt(tablet, PIN)[0] == "unknown"


def test_a_locked_tablet_sends_what_is_unsent_and_shows_nothing(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    saved = tablet.record()
    lock(tablet)
    stand_in.start()

    tablet.all_sent()

    assert list(stand_in.stored) == [saved["id"]]
    assert tablet.page.evaluate("engine.packet()") is None
    assert tablet.events() == []
    assert tablet.record_all([{"visit": "v-kaarina", "kind": "arrived"}])["refused"] == "Locked"


def test_every_request_of_an_enrolled_tablet_is_signed(tablet: Tablet, stand_in: StandIn):
    stand_in.signed.clear()
    tablet.record()
    tablet.all_sent()

    assert stand_in.signed and set(stand_in.signed) == {tablet.status()["tablet"]}


def test_a_wrong_code_enrols_nothing(profile: BrowserContext, stand_in: StandIn):
    tablet = Tablet(profile.new_page(), stand_in.url)
    tablet.page.goto(stand_in.url)
    tablet.starts()

    refused = tablet.page.evaluate("engine.enrol('00000000').then(() => 'enrolled', error => error.name)")

    assert refused == "NotEnrolled"
    assert tablet.status()["lock"] == "not-enrolled"


FIRST_VERSION = """([event, packet]) => new Promise((done, failed) => {
  const request = indexedDB.open("bedside-h-stand-in", 1);
  request.onupgradeneeded = () => {
    const db = request.result;
    const events = db.createObjectStore("events", { keyPath: "id" });
    events.createIndex("by_order", ["tablet", "seq"], { unique: true });
    events.createIndex("by_visit", "visit");
    events.createIndex("by_answer", "answer.status");
    const outbox = db.createObjectStore("outbox", { keyPath: "id" });
    outbox.createIndex("by_order", ["tablet", "seq"], { unique: true });
    const keys = {meta: "key", packets: "key", pins: "visit", spares_taken: "specimen", drafts: "key"};
    for (const [name, keyPath] of Object.entries(keys)) db.createObjectStore(name, { keyPath });
  };
  request.onerror = () => failed(request.error);
  request.onsuccess = () => {
    const { tablet, seq, id, saved_at } = event;
    const all = request.result.transaction(["events", "outbox", "meta", "packets"], "readwrite");
    all.objectStore("events").add(event);
    all.objectStore("events").add({ ...event, id: "e-sent", seq: seq - 1, answer: { status: "stored" } });
    all.objectStore("outbox").add({ id, tablet, seq, saved_at, held_back: null });
    all.objectStore("meta").add({ key: "tablet", value: tablet });
    all.objectStore("meta").add({ key: "seq", value: seq });
    all.objectStore("packets").add({ key: "k-1/1", packet });
    all.oncomplete = () => { request.result.close(); done(); };
  };
})"""
"""The store as the version before wrote it: everything readable."""


def test_what_an_earlier_version_saved_goes_home_and_what_it_left_readable_goes(
    profile: BrowserContext, stand_in: StandIn
):
    body = json.dumps({"visit": "v-kaarina", "kind": "arrived", "at": "2026-11-25T05:12:40.120Z", "data": {}})
    event = {"id": "e-old", "tablet": "tablet-old", "seq": 2, "visit": "v-kaarina", "kind": "arrived", "body": body,
             "hash": hash_of(body), "saved_at": "2026-11-25T05:12:40.120Z", "answer": None}  # fmt: skip
    tablet = Tablet(profile.new_page(), stand_in.url)
    tablet.page.goto(stand_in.url.replace("/tablet/", "/manifest.webmanifest"))
    tablet.page.evaluate(FIRST_VERSION, [event, make_packet()])

    tablet.open()
    tablet.all_sent()

    assert stand_in.stored["e-old"]["body"] == body
    assert tablet.status()["tablet"] == "tablet-old"
    assert tablet.record()["seq"] == 3
    assert rows(tablet, "packets") == [] or "Ojala" not in json.dumps(rows(tablet, "packets"))
    assert "e-sent" not in {row["id"] for row in rows(tablet, "events")}
