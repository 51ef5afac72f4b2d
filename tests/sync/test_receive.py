"""Events come home: kept exactly as sent, counted once, and never refused for what they say."""

from __future__ import annotations

import json
import threading
from typing import Any

import pytest

from bedside.records.database import connected, db
from bedside.records.tables import Answer, Event, FindingNow, Incident, OrderNow, SetAside, Tablet, VisitNow
from bedside.sync.wire import hash_of
from tests.a_house import AHouse, ATablet, drawn, proven, visit_of


def statuses(answers: list[dict[str, Any]]) -> list[str]:
    return [answer["status"] for answer in answers]


def codes(answers: list[dict[str, Any]]) -> list[str]:
    return [finding["code"] for answer in answers for finding in answer["findings"]]


def reasons() -> list[str]:
    return [row.reason for row in SetAside.select().order_by(SetAside.id)]


@pytest.fixture
def tablet(house: AHouse) -> ATablet:
    return house.tablet()


@pytest.fixture
def visit(tablet: ATablet) -> dict[str, Any]:
    return visit_of(tablet.packet(), "Kaarina")


def test_a_visit_as_it_should_go_is_stored_without_a_finding(tablet: ATablet, visit: dict[str, Any]) -> None:
    answers = tablet.send(drawn(tablet, visit))

    assert set(statuses(answers)) == {"stored"}
    assert codes(answers) == []
    now = VisitNow.get_by_id(visit["id"])
    assert (now.stage, now.outcome, now.may_end, now.worst) == ("ended", "collected", True, None)
    assert {row.state for row in OrderNow.select().where(OrderNow.visit == visit["id"])} == {"collected"}


def test_a_body_is_kept_as_the_very_bytes_that_were_sent(tablet: ATablet, visit: dict[str, Any]) -> None:
    event = tablet.event("arrived", visit["id"])
    event["body"] = event["body"].replace('"kind":', '  "kind" :').replace("{", '{"note": "Ł ☕ \\u00e9", ', 1)

    (answer,) = tablet.send([event])

    kept = Event.get_by_id(event["id"])
    assert kept.body == event["body"]
    assert answer["hash"] == kept.hash == hash_of(event["body"])


def test_the_same_event_again_is_known_and_gets_its_first_answer_again(tablet: ATablet, visit: dict[str, Any]) -> None:
    event = tablet.event("needle_in", visit["id"], {"kind": "straight"})
    first = tablet.send([event])

    again = tablet.send([event, event])

    assert statuses(first) == ["stored"] and "identity-missing" in codes(first)
    assert statuses(again) == ["known", "known"]
    assert again[0]["findings"] == first[0]["findings"]
    assert Event.select().count() == 1


def test_an_event_twice_in_one_batch_counts_once(tablet: ATablet, visit: dict[str, Any]) -> None:
    event = tablet.event("arrived", visit["id"])

    assert statuses(tablet.send([event, event])) == ["stored", "known"]
    assert VisitNow.get_by_id(visit["id"]).events == 1


def test_an_id_with_other_bytes_is_kept_aside_once_and_changes_nothing(tablet: ATablet, visit: dict[str, Any]) -> None:
    event = tablet.event("arrived", visit["id"])
    other = {**event, "body": event["body"].replace("arrived", "taped")}
    tablet.send([event])

    assert statuses(tablet.send([other])) == ["id-reused"]
    assert statuses(tablet.send([other])) == ["id-reused"]

    assert Event.get_by_id(event["id"]).body == event["body"]
    (aside,) = SetAside.select()
    assert (aside.reason, aside.body) == ("id-reused", other["body"])


def test_a_number_used_by_another_event_is_set_aside_and_does_not_count(tablet: ATablet, visit: dict[str, Any]) -> None:
    first = tablet.event("arrived", visit["id"])
    second = {**tablet.event("taped", visit["id"]), "seq": first["seq"]}

    assert statuses(tablet.send([first, second])) == ["stored", "set-aside"]

    assert reasons() == ["number-taken"]
    assert Event.select().count() == 2
    assert VisitNow.get_by_id(visit["id"]).events == 1


@pytest.mark.parametrize(
    ("kind", "data", "reason"),
    [
        ("danced", {}, "unknown-kind"),
        ("needle_in", {"kind": "spoon"}, "bad-value"),
        ("tube_filled", {}, "bad-value"),
        ("tube_filled", {"tube": "t-nobody"}, "unknown-tube"),
        ("tube_added", {"tube": "t-x", "kind": "edta", "nominal_ml": 10**400}, "bad-value"),
        ("tube_added", {"tube": "t-x", "kind": "edta", "nominal_ml": -1}, "bad-value"),
    ],
)
def test_what_cannot_be_understood_is_set_aside_with_its_reason(
    tablet: ATablet, visit: dict[str, Any], kind: str, data: dict[str, Any], reason: str
) -> None:
    good, bad = tablet.event("arrived", visit["id"]), tablet.event(kind, visit["id"], data)

    assert statuses(tablet.send([good, bad])) == ["stored", "set-aside"]

    assert reasons() == [reason]
    assert Event.get_by_id(bad["id"]).body == bad["body"]
    assert VisitNow.get_by_id(visit["id"]).events == 1


@pytest.mark.parametrize(
    "body", ["", "{", "[]", "null", '"text"', '{"kind": NaN}', "[" * 100_000, '{"visit": "\\ud800", "kind": "arrived"}']
)
def test_a_body_that_is_no_object_is_set_aside_as_unreadable(tablet: ATablet, body: str) -> None:
    event = {"id": "e-1", "tablet": tablet.name, "seq": 1, "body": body}

    assert statuses(tablet.send([event])) == ["set-aside"]
    assert reasons() == ["unreadable"]
    assert statuses(tablet.send([event])) == ["known"]


@pytest.mark.parametrize(
    "item",
    [
        None,
        "text",
        7,
        [],
        {},
        {"id": "e-1"},
        {"id": "", "tablet": "t", "seq": 1, "body": "{}"},
        {"id": "e-1", "tablet": 5, "seq": 1, "body": "{}"},
        {"id": "e-1", "tablet": "t", "seq": -1, "body": "{}"},
        {"id": "e-1", "tablet": "t", "seq": 2**70, "body": "{}"},
        {"id": "e-1", "tablet": "t", "seq": True, "body": "{}"},
        {"id": "e-1", "tablet": "t", "seq": 1.5, "body": "{}"},
        {"id": "e-1", "tablet": "t", "seq": 1, "body": {}},
        {"id": "e-1", "tablet": "t", "seq": 1, "body": "\ud800"},
    ],
)
def test_an_item_that_is_no_event_is_kept_aside_once(tablet: ATablet, item: object) -> None:
    assert statuses(tablet.send([item])) == ["set-aside"]
    assert statuses(tablet.send([item])) == ["set-aside"]

    assert reasons() == ["no-event"]
    assert Event.select().count() == 0


def test_a_visit_this_house_does_not_know_is_set_aside(tablet: ATablet) -> None:
    events = [tablet.event("arrived", "v-elsewhere"), tablet.event("arrived", None)]

    assert statuses(tablet.send(events)) == ["set-aside", "set-aside"]
    assert reasons() == ["unknown-visit", "unknown-visit"]


def test_a_sealed_event_is_kept_and_set_aside_until_it_can_be_opened(tablet: ATablet) -> None:
    sealed = {"id": "e-1", "tablet": tablet.name, "seq": 1, "sealed": "c2VhbGVk"}

    assert statuses(tablet.send([sealed])) == ["set-aside"]
    assert (Event.get_by_id("e-1").sealed, Event.get_by_id("e-1").body) == (True, "c2VhbGVk")


def test_an_event_about_an_added_tube_finds_its_place_when_the_tube_is_announced(
    tablet: ATablet, visit: dict[str, Any]
) -> None:
    added = tablet.event("tube_added", visit["id"], {"tube": "t-extra", "kind": "edta", "specimen": "0000000994"})
    filled = tablet.event("tube_filled", visit["id"], {"tube": "t-extra"})

    assert statuses(tablet.send([filled])) == ["set-aside"]
    assert statuses(tablet.send([added])) == ["stored"]

    (aside,) = SetAside.select()
    assert aside.placed_at is not None
    tubes = {tube["tube"]: tube for tube in VisitNow.get_by_id(visit["id"]).tubes}
    assert tubes["t-extra"]["filled_at"] is not None


def test_a_correction_that_does_not_fit_goes_aside_and_the_rest_stands(tablet: ATablet, visit: dict[str, Any]) -> None:
    needle = tablet.event("needle_in", visit["id"], {"kind": "straight"})
    wrong = tablet.event("corrected", visit["id"], {"event": needle["id"], "data": {"kind": "spoon"}})

    assert statuses(tablet.send([needle, wrong])) == ["stored", "set-aside"]
    assert reasons() == ["does-not-fit"]
    assert VisitNow.get_by_id(visit["id"]).needles == 1


def test_breaking_a_rule_is_stored_with_its_findings_never_refused(tablet: ATablet, visit: dict[str, Any]) -> None:
    tube = visit["tubes"][0]["id"]
    events = [
        tablet.event("needle_in", visit["id"], {"kind": "straight"}),
        tablet.event("tube_filled", visit["id"], {"tube": tube}),
    ]

    answers = tablet.send(events)

    assert statuses(answers) == ["stored", "stored"]
    assert "identity-missing" in codes(answers)
    assert VisitNow.get_by_id(visit["id"]).worst == "stop"


def test_blood_drawn_with_identity_unsettled_opens_an_incident_by_itself(
    tablet: ATablet, visit: dict[str, Any]
) -> None:
    filled = tablet.event("tube_filled", visit["id"], {"tube": visit["tubes"][0]["id"]})

    tablet.send([tablet.event("needle_in", visit["id"], {"kind": "straight"}), filled])

    (incident,) = Incident.select()
    assert incident.by_itself
    assert (incident.kind, incident.opened_event) == ("wrong_patient", filled["id"])


def test_an_incident_opened_and_noted_is_one_incident(tablet: ATablet, visit: dict[str, Any]) -> None:
    opened = tablet.event("incident_opened", visit["id"], {"kind": "faint"})
    note = {
        "opened": opened["id"],
        "kind": "faint",
        "at": "2026-11-25T07:00:10+00:00",
        "steps": ["laid flat"],
        "told": {"name": "Maren", "role": "charge nurse", "at": "2026-11-25T07:05:00Z"},
        "severity": "mild",
        "note": "came round at once",
    }

    tablet.send([opened])
    assert not Incident.get_by_id(f"i-{opened['id']}").complete
    tablet.send([tablet.event("incident_noted", visit["id"], note)])

    (incident,) = Incident.select()
    assert incident.complete
    assert (incident.severity, incident.happened_at) == ("mild", "2026-11-25T07:00:10.000Z")


def test_a_clock_off_by_more_than_two_minutes_is_said_once_a_tablet(tablet: ATablet, visit: dict[str, Any]) -> None:
    tablet.skew_ms = 120_000
    exactly = tablet.send([tablet.event("arrived", visit["id"])])
    tablet.skew_ms = 120_001
    beyond = tablet.send([tablet.event("asked", visit["id"], {"question": "consent", "answer": "yes"})])
    later = tablet.send([tablet.event("asked", visit["id"], {"question": "fasting", "answer": "yes"})])

    assert codes(exactly) == []
    assert codes(beyond) == ["clock-off"]
    assert codes(later) == []
    assert FindingNow.select().where(FindingNow.code == "clock-off").count() == 1


def test_a_tablet_that_judged_otherwise_is_said(tablet: ATablet, visit: dict[str, Any]) -> None:
    needle = tablet.event("needle_in", visit["id"], {"kind": "straight"})
    theirs = {visit["id"]: [["identity-missing", "note", needle["id"]]]}

    tablet.send([needle], verdicts=theirs)

    assert FindingNow.select().where(FindingNow.code == "judgement-differs").count() == 1


def test_a_tablet_that_judged_the_same_is_not_mentioned(tablet: ATablet, visit: dict[str, Any]) -> None:
    events = drawn(tablet, visit)

    tablet.send(events, verdicts={visit["id"]: []})

    assert FindingNow.select().count() == 0


def test_verdicts_of_no_known_shape_do_no_harm(tablet: ATablet, visit: dict[str, Any]) -> None:
    strange = {visit["id"]: [1, ["a"], {"x": 1}, ["a", "b", 3]], "v-none": [], "x": "y"}

    assert statuses(tablet.send([tablet.event("arrived", visit["id"])], verdicts=strange)) == ["stored"]
    assert statuses(tablet.send([tablet.event("taped", visit["id"])], verdicts=[1])) == ["stored"]


def test_a_revoked_tablets_events_are_kept_and_set_aside(house: AHouse, tablet: ATablet, visit: dict[str, Any]) -> None:
    tablet.send([tablet.event("arrived", visit["id"])])
    Tablet.update(revoked_at="2026-11-25T07:00:00.000Z").execute()

    assert statuses(tablet.send(proven(tablet, visit))) == ["set-aside"] * 4

    assert VisitNow.get_by_id(visit["id"]).events == 1
    assert Event.select().count() == 5


def test_every_answer_is_kept_and_every_event_has_one(tablet: ATablet, visit: dict[str, Any]) -> None:
    tablet.send(drawn(tablet, visit))

    assert {row.event_id for row in Answer.select()} == {row.id for row in Event.select()}


def test_a_rule_that_breaks_loses_nothing_and_says_not_checked(
    tablet: ATablet, visit: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("bedside.sync.judging.judge", breaks)

    assert statuses(tablet.send(proven(tablet, visit))) == ["stored"] * 4

    assert VisitNow.get_by_id(visit["id"]).stage == "not checked"
    assert [row.code for row in FindingNow.select()] == ["not-checked"]


def test_an_error_before_the_commit_leaves_nothing_behind(
    tablet: ATablet, visit: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    events = proven(tablet, visit)
    message = {"house": tablet.browser.house.id, "tablet": tablet.name, "schema": 1, "events": events}

    def breaks(*_: object) -> None:
        raise RuntimeError("power")

    with monkeypatch.context() as broken:
        broken.setattr("bedside.sync.receive._audit", breaks)
        assert tablet.post(message).status_code == 500
    assert Event.select().count() == 0

    assert statuses(tablet.send(events)) == ["stored"] * 4


def test_the_same_batch_from_many_threads_counts_once(house: AHouse, tablet: ATablet, visit: dict[str, Any]) -> None:
    events = drawn(tablet, visit)
    message = {"house": house.id, "tablet": tablet.name, "schema": 1, "events": events}
    others = [house.signed_in("phlebotomist") for _ in range(6)]
    told: list[Any] = []

    def send(browser: Any) -> None:
        told.append(ATablet(browser=browser, name=tablet.name).post(message))

    threads = [threading.Thread(target=send, args=(browser,)) for browser in others]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert {answer.status_code for answer in told} == {200}
    counted = [status for answer in told for status in statuses(answer.get_json()["answers"])]
    assert counted.count("stored") == len(events)
    assert counted.count("known") == 5 * len(events)
    assert Event.select().count() == len(events)


def test_an_event_can_neither_be_changed_nor_removed(tablet: ATablet, visit: dict[str, Any]) -> None:
    tablet.send([tablet.event("arrived", visit["id"])])

    for statement in (
        "UPDATE event SET body = 'x'",
        "DELETE FROM event",
        "UPDATE audit SET who = 'x'",
        "DELETE FROM audit",
    ):
        with pytest.raises(Exception, match="written once"):
            db.execute_sql(statement)


def test_the_answer_names_the_newest_revision_and_the_audit_head(tablet: ATablet, visit: dict[str, Any]) -> None:
    message = {
        "house": tablet.browser.house.id,
        "tablet": tablet.name,
        "events": [tablet.event("arrived", visit["id"])],
    }

    told = tablet.post(message).get_json()

    assert told["revision"] == tablet.packet()["revision"]
    with connected():
        assert json.dumps(told["head"]).count("hash") == 1
