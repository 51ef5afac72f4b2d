"""What a packet says of a patient's blood: drawn before by anybody, what fits, what waits, what is saved."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bedside.people.roles import Role
from bedside.records import volumes_allowed
from bedside.records.blood_drawn import drawn_from
from bedside.records.moments import now
from bedside.records.tables import Patient
from bedside.records.volumes_allowed import NotAllowed
from tests.a_house import AHouse, drawn, order_row, visit_of


def make_child(name: str = "Hansen", **facts: object) -> None:
    Patient.update({"birth_date": (now() - timedelta(days=20)).date().isoformat(), **facts}).where(
        Patient.family == name
    ).execute()


def allow(house: AHouse, ml: float, allowed_by: str = "Dr Ada Krol, prescriber", reason: str = "septic") -> None:
    patient = Patient.get(Patient.family == "Hansen").id
    volumes_allowed.allow(patient, ml, allowed_by, reason, by=house.people[Role.CHARGE_NURSE], at=now())


def test_over_the_limit_the_most_pressing_is_planned_and_the_rest_waits_by_name(house: AHouse) -> None:
    house.take_in([order_row("A-90", "Karin", "58410-2", "stat")])
    make_child(weight_kg=4.0)

    visit = visit_of(house.tablet().packet(), "Karin")

    # BV-06: 3.5 mL at once; the count takes 2, the panel 2.5
    assert [tube["tests"] for tube in visit["tubes"]] == [["58410-2"]]
    assert [one["test"] for one in visit["volume"]["waits"]] == ["24321-2"]
    assert [finding["code"] for finding in visit["plan_findings"]] == ["volume-over-limit"]
    assert visit["volume"]["says"][0].startswith("Over the limit, so these wait: Basic metabolic panel.")
    assert "prescriber" in visit["volume"]["may_allow"]


def test_what_a_named_person_allowed_puts_the_waiting_tests_back(house: AHouse) -> None:
    house.take_in([order_row("A-90", "Karin", "58410-2", "stat")])
    make_child(weight_kg=4.0)
    tablet = house.tablet()
    before = tablet.packet()

    allow(house, 4.5)
    after = tablet.packet()

    visit = visit_of(after, "Karin")
    assert after["revision"] > before["revision"]
    assert (visit["limits"]["max_draw_ml"], visit["volume"]["waits"], visit["plan_findings"]) == (4.5, [], [])
    assert visit["volume"]["allowed"] == {"ml": 4.5, "by": "Dr Ada Krol, prescriber", "reason": "septic"}
    assert "prescriber" in visit["volume"]["may_allow"]  # a tablet may find by itself that something does not fit


def test_a_word_counts_for_one_shift(house: AHouse) -> None:
    allow(house, 4.5)
    patient = Patient.get(Patient.family == "Hansen").id

    assert volumes_allowed.allowed_now([patient], now() + timedelta(hours=11, minutes=59)) != {}
    assert volumes_allowed.allowed_now([patient], now() + timedelta(hours=12, minutes=1)) == {}


@pytest.mark.parametrize(
    ("ml", "who", "why"),
    [(0, "Dr Ada Krol", "x"), (501, "Dr Ada Krol", "x"), (float("nan"), "Dr A", "x"), (5, " ", "x"), (5, "Dr A", " ")],
)
def test_a_word_needs_a_volume_a_name_and_a_reason(house: AHouse, ml: float, who: str, why: str) -> None:
    with pytest.raises(NotAllowed):
        allow(house, ml, who, why)


def test_a_child_without_a_weight_keeps_its_tubes_planned_and_is_stopped(house: AHouse) -> None:
    make_child(weight_kg=None)

    visit = visit_of(house.tablet().packet(), "Karin")

    assert [tube["tests"] for tube in visit["tubes"]] == [["24321-2"]]
    assert visit["limits"]["max_draw_ml"] == 0
    assert visit["volume"]["says"][0] == (
        "No weight is known: a child is not drawn until it is entered on the ward's page."
    )


def test_an_adult_without_a_weight_is_a_note(house: AHouse) -> None:
    visit = visit_of(house.tablet().packet(), "Karin")

    assert visit["volume"]["says"][0].startswith("No weight is known, so")
    assert visit["limits"]["max_draw_ml"] is None


def test_blood_of_another_person_on_another_tablet_counts_and_so_do_discards(house: AHouse) -> None:
    first = house.tablet()
    karin = visit_of(first.packet(), "Karin")
    first.ms = round(now().timestamp() * 1000) - 600_000
    first.send(drawn(first, karin))
    tube = karin["tubes"][0]["id"]
    first.send([first.event("tube_discarded", karin["id"], {"tube": tube, "reason": "clotted"})])
    patient = Patient.get(Patient.family == "Hansen").id
    filled = sum(one["nominal_ml"] for one in karin["tubes"])

    at_once = drawn_from([patient], now())[patient].given()
    next_day = drawn_from([patient], now() + timedelta(hours=24))[patient].given()
    in_nine_weeks = drawn_from([patient], now() + timedelta(weeks=9))

    assert (at_once.day_ml, at_once.eight_weeks_ml) == (filled, filled)
    assert (next_day.day_ml, next_day.eight_weeks_ml) == (0, filled)
    assert in_nine_weeks == {}


def test_a_hand_over_a_day_later_does_not_make_the_blood_younger(house: AHouse) -> None:
    tablet = house.tablet()
    karin = visit_of(tablet.packet(), "Karin")
    tablet.ms = round((now() - timedelta(hours=25)).timestamp() * 1000)
    tablet.send(drawn(tablet, karin))
    tablet.ms = round(now().timestamp() * 1000)
    tube = karin["tubes"][0]["id"]
    tablet.send([tablet.event("tube_handed_over", karin["id"], {"tube": tube, "kept": "room"})])
    patient = Patient.get(Patient.family == "Hansen").id

    given = drawn_from([patient], now())[patient].given()

    assert (given.day_ml, given.eight_weeks_ml) == (0, sum(one["nominal_ml"] for one in karin["tubes"]))


def test_the_saving_is_said_with_what_the_loss_means_and_its_source(house: AHouse) -> None:
    house.take_in([order_row("A-91", "Karin", "2160-0")])

    volume = visit_of(house.tablet().packet(), "Karin")["volume"]

    assert (volume["saving"]["saving_ml"], volume["saving"]["saving_tubes"]) == (2.0, 1)
    assert "Sharing containers saves 2 mL and 1 container against one for each test." in volume["says"]
    assert any("Thavendiranathan 2005" in sentence for sentence in volume["says"])


def test_thick_blood_asks_the_laboratory_for_a_tube_with_formula_volume_and_result(house: AHouse) -> None:
    house.take_in([order_row("A-92", "Karin", "6301-6")])
    Patient.update(hematocrit_percent=60.0).where(Patient.family == "Hansen").execute()

    visit = visit_of(house.tablet().packet(), "Karin")

    # CT-02: 1.85e-3 x 40 x 2.7 = 0.1998
    [said] = visit["volume"]["adjusted_citrate"]
    assert "V = 2.7 mL of blood: leave 0.20 mL of citrate" in said
    assert [finding["code"] for finding in visit["plan_findings"]] == ["citrate-hematocrit"]
