"""Nothing recorded is lost and nothing counts twice, whatever the network and the server do."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable

import pytest
from flask import Response, redirect
from playwright.sync_api import BrowserContext

from .stand_in import StandIn, as_json
from .tablet import Tablet, open_tablet
from .waiting import wait_until


def numbers(stand_in: StandIn) -> list[int]:
    """The numbers of what the server holds, in the order in which it came."""
    return [event["seq"] for event in stand_in.stored.values()]


def test_what_is_saved_is_sent_by_itself_in_order_and_once(tablet: Tablet, stand_in: StandIn):
    for _ in range(5):
        tablet.record()

    tablet.until(unsent=0, state="quiet")

    assert numbers(stand_in) == [1, 2, 3, 4, 5]
    assert sum(len(batch) for batch in stand_in.batches) == 5
    assert {event["answer"]["status"] for event in tablet.events()} == {"stored"}


def test_a_long_queue_goes_in_batches_in_order(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.signed_in = False
    tablet.record_all([{"visit": "v-kaarina", "kind": "arrived"}] * 120)
    stand_in.faults.signed_in = True

    tablet.all_sent()

    assert [len(batch) for batch in stand_in.batches] == [50, 50, 20]
    assert numbers(stand_in) == list(range(1, 121))


def test_a_lost_answer_makes_no_second_event(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.lose_answers = 1
    tablet.record()

    tablet.until(unsent=0)

    assert len(stand_in.batches) >= 2
    assert numbers(stand_in) == [1]
    assert tablet.events()[0]["answer"]["status"] == "known"


@pytest.mark.parametrize("status", [500, 502, 503, 429, 408, 404])
def test_a_server_in_trouble_is_asked_again_until_it_answers(tablet: Tablet, stand_in: StandIn, status: int):
    stand_in.faults.refuse = [status]
    tablet.record()

    tablet.until(unsent=0)

    assert numbers(stand_in) == [1]
    assert [len(batch) for batch in stand_in.batches] == [1, 1]


def test_a_house_that_wants_a_sign_in_is_not_sent_anything_until_somebody_signed_in(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.signed_in = False
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(state="sign-in")
    tablet.record()
    tablet.record()
    tablet.until(state="sign-in", unsent=2)
    assert stand_in.batches == []

    stand_in.faults.signed_in = True
    tablet.page.evaluate("dispatchEvent(new Event('focus'))")  # back from the sign-in page

    tablet.until(unsent=0, state="quiet")
    assert numbers(stand_in) == [1, 2]


def test_a_session_that_ends_between_greeting_and_sending_pauses_too(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.refuse = [401]
    tablet.record()

    tablet.until(state="sign-in", unsent=1)

    tablet.all_sent()
    assert numbers(stand_in) == [1]


def a_page() -> Response:
    return Response("<!doctype html><title>Welcome to the guest network</title>", content_type="text/html")


def a_redirect() -> Response:
    response = redirect("http://127.0.0.1:9/welcome")
    return Response(response.get_data(), status=302, headers=dict(response.headers))


def strangers_json() -> Response:
    return as_json({"house": "h-stand-in", "answers": [], "person": {}})


@pytest.mark.parametrize("portal", [a_page, a_redirect, strangers_json])
def test_a_portal_on_the_way_is_not_taken_for_the_house(
    tablet: Tablet, stand_in: StandIn, portal: Callable[[], Response]
):
    stand_in.faults.portal = portal
    before = tablet.status()["lastContactAt"]
    tablet.page.evaluate("engine.tryAgain()")
    tablet.until(state="waiting")

    tablet.record()
    tablet.page.evaluate("engine.tryAgain()")

    status = tablet.until(state="waiting", unsent=1)
    assert status["lastContactAt"] == before
    assert stand_in.batches == []
    stand_in.faults.portal = None
    tablet.all_sent()
    assert numbers(stand_in) == [1]


def test_a_batch_too_large_is_halved_until_it_passes(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.most_events = 3
    tablet.record_all([{"visit": "v-kaarina", "kind": "arrived"}] * 20)

    tablet.until(unsent=0)

    assert numbers(stand_in) == list(range(1, 21))


def test_one_event_the_house_cannot_read_does_not_stop_the_others(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.not_readable = {"v-odd"}
    tablet.record_all([{"visit": visit, "kind": "arrived"} for visit in ("v-a", "v-odd", "v-b")])

    tablet.until(unsent=1, heldBack=1, state="quiet")

    assert numbers(stand_in) == [1, 3]
    stand_in.faults.not_readable = set()  # the house was mended
    tablet.all_sent()
    assert sorted(numbers(stand_in)) == [1, 2, 3]


def test_an_id_the_house_knows_with_other_bytes_is_kept_and_shown(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.statuses["v-twice"] = "id-reused"
    tablet.record_all([{"visit": visit, "kind": "arrived"} for visit in ("v-twice", "v-b")])

    tablet.until(unsent=1, heldBack=1, state="quiet")

    assert [event["answer"]["status"] for event in tablet.events()] == ["id-reused", "stored"]
    assert json.loads(tablet.page.evaluate("engine.exportUnsent()"))["seq"] == 1


def test_an_answer_about_other_bytes_lets_nothing_go(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.wrong_hash = {"v-garbled"}
    tablet.record_all([{"visit": visit, "kind": "arrived"} for visit in ("v-garbled", "v-b")])

    tablet.until(unsent=1, heldBack=1)

    assert [event["answer"]["status"] for event in tablet.events()] == ["hash-differs", "stored"]


def test_an_event_the_answer_passes_over_is_offered_again(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.say_nothing_of = {"v-forgotten"}
    tablet.record_all([{"visit": visit, "kind": "arrived"} for visit in ("v-forgotten", "v-b")])
    tablet.until(unsent=1, state="waiting")

    stand_in.faults.say_nothing_of = set()

    tablet.all_sent()
    assert sorted(numbers(stand_in)) == [1, 2]


def test_what_the_house_sets_aside_is_let_go_and_counted(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.statuses["v-strange"] = "set-aside"
    tablet.record("v-strange")

    tablet.until(unsent=0, setAside=1)

    tablet.reload()
    assert tablet.status()["setAside"] == 1


def test_another_house_on_the_same_address_gets_nothing(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.signed_in = False
    saved = tablet.record()
    stand_in.stop()
    stand_in.house, stand_in.faults.signed_in = "h-other", True
    stand_in.start()

    tablet.page.evaluate("engine.tryAgain()")

    tablet.until(state="other-house", unsent=1)
    assert stand_in.batches == []
    assert json.loads(tablet.page.evaluate("engine.exportUnsent()"))["id"] == saved["id"]
    with tablet.page.expect_navigation():
        tablet.page.evaluate("engine.moveTo('h-other')")
    tablet.ready()
    tablet.until(house="h-other", state="quiet")
    tablet.page.evaluate("engine.tryAgain()")
    assert tablet.status()["otherHouses"] == [{"house": "h-stand-in", "unsent": 1}]
    assert json.loads(tablet.page.evaluate("engine.exportUnsent('h-stand-in')"))["id"] == saved["id"]
    assert stand_in.batches == []


def test_a_tablet_with_nothing_unsent_follows_to_another_house_by_itself(tablet: Tablet, stand_in: StandIn):
    stand_in.stop()
    stand_in.house = "h-other"
    stand_in.start()

    with tablet.page.expect_navigation():
        tablet.page.evaluate("void engine.tryAgain()")

    tablet.ready()
    tablet.until(house="h-other")
    assert tablet.events() == []


def test_a_restored_house_is_offered_what_it_has_forgotten(tablet: Tablet, stand_in: StandIn):
    first = tablet.record()
    tablet.all_sent()
    stand_in.stop()
    stand_in.stored.clear()  # the backup is older than the event
    stand_in.house, stand_in.formerly = "h-restored", ["h-stand-in"]
    stand_in.start()

    with tablet.page.expect_navigation():
        tablet.page.evaluate("void engine.tryAgain()")
    tablet.ready()
    tablet.until(house="h-restored", unsent=0, state="quiet")

    assert list(stand_in.stored) == [first["id"]]
    assert tablet.events()[0]["answer"]["status"] == "stored"
    assert tablet.record()["tablet"] != first["tablet"]


def test_what_another_window_saved_under_the_old_name_is_carried_over_too(
    tablet: Tablet, another_tab: Callable[[], Tablet], stand_in: StandIn
):
    busy = another_tab()
    busy.page.evaluate("void (engine.mayReload = () => false)")  # a visit is under way there
    stand_in.stop()
    stand_in.house, stand_in.formerly = "h-restored", ["h-stand-in"]
    stand_in.start()
    with tablet.page.expect_navigation():
        tablet.page.evaluate("void engine.tryAgain()")
    tablet.ready()

    late = busy.record()
    tablet.reload()

    tablet.until(house="h-restored", unsent=0, state="quiet")
    assert list(stand_in.stored) == [late["id"]]
    assert tablet.status()["otherHouses"] == []


def test_two_tabs_send_everything_and_nothing_twice(
    tablet: Tablet, another_tab: Callable[[], Tablet], stand_in: StandIn
):
    other = another_tab()
    stand_in.faults.hold = threading.Event()

    for tab in (tablet, other, tablet, other):
        tab.record()
    wait_until(lambda: stand_in.asked("/tablet/events"), "one of the tabs sends")
    stand_in.faults.hold.set()

    tablet.until(unsent=0)
    other.until(unsent=0)
    assert sorted(numbers(stand_in)) == [1, 2, 3, 4]


def test_a_tab_hears_what_another_saved(tablet: Tablet, another_tab: Callable[[], Tablet], stand_in: StandIn):
    stand_in.faults.signed_in = False
    other = another_tab()
    other.page.evaluate("void (window.heard = new Promise(tell => engine.onSaved(tell)))")

    tablet.record("v-kaarina")

    assert other.page.evaluate("heard") == {"visits": ["v-kaarina"]}
    other.until(unsent=1)


def test_an_answer_that_never_comes_is_given_up_and_asked_for_again(tablet: Tablet, stand_in: StandIn):
    stand_in.faults.hold = threading.Event()
    tablet.record()
    tablet.until(state="waiting", unsent=1)

    stand_in.faults.hold.set()

    tablet.all_sent()
    assert numbers(stand_in) == [1]


def test_the_first_start_waits_for_a_house(profile: BrowserContext, stand_in: StandIn):
    stand_in.faults.portal = a_page
    page = profile.new_page()
    page.goto(stand_in.url)
    first = Tablet(page, stand_in.url)
    first.until(state="first-contact")

    stand_in.faults.portal = None

    first.ready()
    first.until(house="h-stand-in", state="quiet")


def test_before_a_tablet_is_enrolled_and_unlocked_recording_is_refused_and_not_swallowed(
    profile: BrowserContext, stand_in: StandIn
):
    stand_in.faults.portal = a_page
    page = profile.new_page()
    page.goto(stand_in.url)
    page.evaluate(
        "void (window.saving = engine.record({visit: 'v-kaarina', kind: 'arrived'}).catch(error => error.name))"
    )

    stand_in.faults.portal = None

    assert page.evaluate("saving") == "Locked"


def test_the_clock_of_the_house_is_known_and_rides_along(tablet: Tablet, stand_in: StandIn):
    tablet.until(state="quiet")

    saved = tablet.record()

    assert abs(saved["body"]["server_skew_ms"]) < 2000  # one machine, one clock
    assert saved["body"]["server_skew_ms"] == tablet.status()["skewMs"]


def test_a_second_tablet_has_another_name(tablet: Tablet, stand_in: StandIn, browser):
    mine = tablet.record()
    context = browser.new_context()
    theirs = open_tablet(context, stand_in.url).record()
    context.close()

    assert mine["tablet"] != theirs["tablet"]
    assert (mine["seq"], theirs["seq"]) == (1, 1)


def test_the_head_of_the_audit_chain_is_carried_back(tablet: Tablet, stand_in: StandIn):
    tablet.record()
    tablet.all_sent()
    tablet.reload()
    tablet.record()
    tablet.all_sent()

    assert [letter["head"] for letter in stand_in.letters] == [None, {"n": 1, "hash": "sha256:1"}]


def test_a_visits_verdict_rides_with_its_end_and_only_with_all_its_events(tablet: Tablet, stand_in: StandIn):
    tablet.page.evaluate("void (engine.verdictOf = async visit => [['latex-allergy', 'note', visit]])")
    tablet.record("v-a")
    tablet.all_sent()
    tablet.record("v-a", "visit_ended")
    tablet.all_sent()

    verdicts = [letter["verdicts"] for letter in stand_in.letters]
    assert verdicts == [{}, {"v-a": [["latex-allergy", "note", "v-a"]]}]


def test_a_judge_that_fails_keeps_no_event_from_being_sent(tablet: Tablet, stand_in: StandIn):
    tablet.page.evaluate("void (engine.verdictOf = async () => { throw new Error('a broken rule'); })")
    tablet.record("v-a", "visit_ended")

    tablet.until(unsent=0)

    assert stand_in.letters[0]["verdicts"] == {}
