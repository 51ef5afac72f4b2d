"""A tablet comes back: its round closes when nothing hangs on it, and the keeper's page says what does."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bedside.people import tablets
from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.carried_rounds import Carrying, RoundOut
from bedside.records.database import writing
from bedside.records.moments import now
from bedside.records.tables import OrderNow, Round
from bedside.rounds.handing_back import hangs_on
from tests.a_house import BASE, AHouse, ATablet, Browser, proven, visit_of
from tests.people.test_enrolment import Signer

PAGE = "/house/tablets"


class Signing:
    """An enrolled tablet that signs."""

    def __init__(self, house: AHouse, name: str, person: str = Role.PHLEBOTOMIST) -> None:
        self.tablet: ATablet = house.tablet(person)
        self.signer = Signer()
        with writing():
            code = tablets.make_code(name, by=house.people[Role.KEEPER], at=now())
        tablets.enrol(code, self.tablet.name, self.signer.public, address="127.0.0.1", at=now())

    def post(self, path: str, message: Any) -> Any:
        body = json.dumps(message).encode()
        headers = self.signer.headers(self.tablet.name, "POST", path, body)
        return self.tablet.browser.client.post(
            path, base_url=BASE, data=body, content_type="application/json", headers=headers
        )

    def packet(self) -> dict[str, Any]:
        headers = self.signer.headers(self.tablet.name, "GET", "/tablet/packet")
        answer = self.tablet.browser.get(f"/tablet/packet?tablet={self.tablet.name}", headers=headers)
        assert answer.status_code == 200, answer.text
        return dict(answer.get_json())

    def send(self, events: list[Any]) -> None:
        answer = self.post(
            "/tablet/events",
            {"house": self.tablet.browser.house.id, "tablet": self.tablet.name, "schema": 1, "events": events},
        )
        assert {one["status"] for one in answer.get_json()["answers"]} == {"stored"}

    def hand_back(self, unsent: int = 0) -> list[dict[str, Any]]:
        return list(self.post("/tablet/hand-back", {"unsent": str(unsent)}).get_json()["rounds"])


@pytest.fixture
def first(house: AHouse) -> Signing:
    made = Signing(house, "Ward 5, no. 1")
    made.packet()
    return made


@pytest.fixture
def keeper(house: AHouse) -> Browser:
    return house.signed_in(Role.KEEPER)


def is_out() -> bool:
    return bool(Round.select().where(Round.closed_at.is_null()).exists())


def test_T_164_310_handed_back_with_nothing_unsent_the_round_closes_and_its_orders_are_pending(first: Signing) -> None:
    told = first.hand_back()

    assert [(each["closed"], each["hangs_on"]) for each in told] == [(True, [])]
    assert not is_out()
    assert {row.state for row in OrderNow.select()} == {"pending"}
    assert [entry.action for entry in audit.newest(2)] == ["tablet handed back", "round closed"]


def test_with_records_unsent_the_round_stays_out_until_they_are_home(first: Signing, keeper: Browser) -> None:
    (told,) = first.hand_back(unsent=2)

    assert told["closed"] is False and told["hangs_on"] == ["Ward 5, no. 1 still holds 2 unsent"]
    assert is_out() and "Ward 5, no. 1 still holds 2 unsent" in keeper.get(PAGE).text
    assert first.hand_back(unsent=0)[0]["closed"] is True


def test_a_round_on_a_second_tablet_stays_out_until_that_one_comes_back_too(house: AHouse, first: Signing) -> None:
    second = Signing(house, "Ward 5, no. 2")
    second.packet()

    (told,) = first.hand_back()

    assert told["hangs_on"] == ["Ward 5, no. 2 carries it"]
    assert second.hand_back()[0]["closed"] is True


def test_a_visit_that_has_begun_keeps_the_round_out(first: Signing) -> None:
    first.send(proven(first.tablet, visit_of(first.packet(), "Karin")))

    (told,) = first.hand_back()

    assert told["hangs_on"] == ["1 visit has begun and not ended"]
    assert is_out()


def test_a_second_letter_of_the_same_hand_back_changes_nothing(first: Signing) -> None:
    first.hand_back()

    assert first.hand_back() == []


def test_two_peoples_rounds_on_one_tablet_come_back_together(house: AHouse, first: Signing) -> None:
    tomasz = house.add_person("tomasz", "Tomasz Wrona", Role.PHLEBOTOMIST)
    first.tablet.browser = house.signed_in(tomasz)
    first.packet()

    assert [each["closed"] for each in first.hand_back()] == [True, True]


@pytest.mark.parametrize("unsent", ["", "-1", "1.5", "²", "٣", "9" * 10, "many"])
def test_a_count_that_is_none_closes_no_round(first: Signing, unsent: str) -> None:
    assert first.post("/tablet/hand-back", {"unsent": unsent}).status_code == 400
    assert is_out()


@pytest.mark.parametrize(
    ("begun", "tablets_out", "says"),
    [
        (0, (), ()),
        (2, (), ("2 visits have begun and not ended",)),
        (0, (("A", False, 0),), ()),
        (1, (("A", True, 0), ("B", False, 3)),
         ("1 visit has begun and not ended", "A carries it", "B still holds 3 unsent")),
    ],
)  # fmt: skip
def test_what_hangs_on_a_round(begun: int, tablets_out: tuple[Any, ...], says: tuple[str, ...]) -> None:
    carrying = tuple(Carrying(tablet=name, name=name, has_it=has, unsent=un) for name, has, un in tablets_out)
    out = RoundOut(id="r", name="", person="p", person_name="", taken_at="", begun=begun, left=9, tablets=carrying)

    assert hangs_on(out) == says


# --- the keeper closes one by hand ------------------------------------------------------------------------------------


def close(keeper: Browser, **form: str) -> Any:
    out = Round.get_or_none(Round.closed_at.is_null())
    return keeper.post(f"/house/rounds/{out.id if out else 'r-none'}", form, on=PAGE)


def test_the_keeper_closes_a_round_and_what_hung_on_it_is_written_down(first: Signing, keeper: Browser) -> None:
    answer = close(keeper, asked="1")

    assert answer.status_code == 302 and not is_out()
    entry = audit.newest(1)[0]
    assert (entry.action, entry.result) == ("round closed by hand", "Ward 5, no. 1 carries it")
    assert "Rounds that are out" not in keeper.get(PAGE).text
    assert close(keeper, asked="1").status_code == 422


def test_a_round_nobody_asked_about_stays_out(first: Signing, keeper: Browser) -> None:
    answer = close(keeper)

    assert answer.status_code == 422 and "Ask first" in answer.text
    assert is_out()


# --- ten wrong PINs ---------------------------------------------------------------------------------------------------

TOLD = {"person": "p-ines", "at": "2026-11-25T05:12:40.120Z"}


def told_pins() -> list[audit.Entry]:
    return [entry for entry in audit.entries() if entry.action == "ten wrong PINs"]


def test_T_3_3_ten_wrong_pins_stand_in_the_audit_chain_once_and_on_the_keepers_page(
    house: AHouse, first: Signing, keeper: Browser
) -> None:
    letter = {**TOLD, "person": house.people[Role.PHLEBOTOMIST]}
    before = keeper.get(PAGE).text

    answers = [first.post("/tablet/pins-used-up", letter).status_code for _ in range(2)]

    assert answers == [200, 200]
    (entry,) = told_pins()
    assert (entry.who, entry.object) == ("tablet", first.tablet.name)
    assert audit.first_fault(audit.entries()) is None
    page = keeper.get(PAGE).text
    assert "Somebody tried PINs" not in before
    assert "Ward 5, no. 1: ten wrong PINs for Ines Baptista" in page
    assert first.tablet.hello().status_code == 401  # whoever tried them is not signed in any more


def test_what_a_tablet_calls_a_person_never_stands_in_the_record(first: Signing) -> None:
    first.post("/tablet/pins-used-up", {**TOLD, "person": "Ojala, Kaarina"})

    assert told_pins()[0].result == "2026-11-25T05:12:40.120Z somebody unknown"


@pytest.mark.parametrize("at", ["", "yesterday", "2026-11-25T05:12:40"])
def test_a_letter_without_a_time_is_not_taken(first: Signing, at: str) -> None:
    assert first.post("/tablet/pins-used-up", {**TOLD, "at": at}).status_code == 400
    assert told_pins() == []


def test_only_a_tablets_own_signature_says_so(house: AHouse, first: Signing) -> None:
    first.tablet.browser = house.browser()
    stranger = Signer()
    first.signer, kept = stranger, first.signer

    assert first.post("/tablet/pins-used-up", TOLD).status_code == 401
    first.signer = kept
    assert first.post("/tablet/pins-used-up", TOLD).status_code == 200
