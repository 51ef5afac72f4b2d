"""A specimen the laboratory refused goes out again as an order that says why; what was drawn stays what it was."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from bedside.__main__ import main
from bedside.people.roles import Role
from bedside.records.audit import entries
from bedside.records.database import connected
from bedside.records.moments import now
from bedside.records.sending_again import Window
from bedside.records.specimens_now import specimens_now
from bedside.records.specimens_refused import NotRefused, Refusal, refuse
from bedside.records.tables import Order, OrderNow
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, drawn, visit_of


def drew(house: AHouse, patient: str = "Kaarina") -> tuple[ATablet, dict[str, Any]]:
    """A visit that went well, ten minutes ago."""
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), patient)
    tablet.ms = round((now() - timedelta(minutes=10)).timestamp() * 1000)
    tablet.send(drawn(tablet, visit))
    return tablet, visit


def four_hours() -> Window:
    return Window(due_from=now(), due_to=now() + timedelta(hours=4))


def refused(house: AHouse, specimen: str, reason: str = "RH", said_by: str = "Vera Holm, reception", note: str = ""):
    told = Refusal(specimen=specimen, reason=reason, said_by=said_by, note=note)
    return refuse(told, four_hours(), by=house.people[Role.CHARGE_NURSE], at=now())


def test_every_test_of_the_tube_goes_out_again_and_says_why(house: AHouse) -> None:
    tablet, visit = drew(house)
    tube = visit["tubes"][0]

    numbers = refused(house, tube["specimen"], note="Use the other arm.")

    again = visit_of({"visits": [one for one in tablet.packet()["visits"] if one["ended"] is None]}, "Kaarina")
    assert [order["test"] for order in again["orders"]] == tube["tests"]
    assert len(numbers) == len(tube["tests"])
    # W70, FH-12: RH is haemolysed (HL7 table 0490)
    assert again["notes"] == [
        f"Collect again: the laboratory refused {tube['specimen']}, haemolysed (RH). Use the other arm."
    ]


def test_what_was_drawn_stays_drawn_and_nothing_counts_as_drawn_twice(house: AHouse) -> None:
    tablet, visit = drew(house)
    first = {order["id"]: OrderNow.get_by_id(order["id"]).state for order in visit["orders"]}
    refused(house, visit["tubes"][0]["specimen"])
    again = visit_of({"visits": [one for one in tablet.packet()["visits"] if one["ended"] is None]}, "Kaarina")

    tablet.ms = round(now().timestamp() * 1000)
    answers = tablet.send(drawn(tablet, again))

    assert set(first.values()) == {"collected"}
    assert OrderNow.get_by_id(again["orders"][0]["id"]).state == "collected"
    codes = {finding["code"] for answer in answers for finding in answer["findings"]}
    assert "drawn-twice" not in codes
    assert [check.fault for check in checks() if check.fault] == []


def test_a_specimen_refused_a_second_time_gets_the_next_number(house: AHouse) -> None:
    tablet, visit = drew(house)
    tube = next(one for one in visit["tubes"] if one["tests"] == ["24321-2"])
    [second] = refused(house, tube["specimen"])
    again = visit_of({"visits": [one for one in tablet.packet()["visits"] if one["ended"] is None]}, "Kaarina")
    tablet.ms = round((now() - timedelta(minutes=1)).timestamp() * 1000)
    tablet.send(drawn(tablet, again))

    [third] = refused(house, again["tubes"][0]["specimen"], "QS")

    assert second.removesuffix("/2") == third.removesuffix("/3")


def test_a_refusal_is_written_down_without_a_word_about_the_patient(house: AHouse) -> None:
    _, visit = drew(house)

    refused(house, visit["tubes"][0]["specimen"])

    last = list(entries())[-1]
    assert (last.action, last.result.split(",")[0]) == ("specimen refused", "RH")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"reason": "XX"}, "Choose why"),
        ({"said_by": " "}, "who at the laboratory"),
        ({"specimen": "1000000094"}, "No filled container"),
    ],
)
def test_a_refusal_that_cannot_be_kept_says_what_is_missing(house: AHouse, change: dict[str, str], says: str) -> None:
    _, visit = drew(house)
    before = Order.select().count()

    with pytest.raises(NotRefused, match=says):
        refused(house, **{"specimen": visit["tubes"][0]["specimen"], **change})

    assert Order.select().count() == before


def test_refused_once_is_enough(house: AHouse) -> None:
    _, visit = drew(house)
    refused(house, visit["tubes"][0]["specimen"])

    with pytest.raises(NotRefused, match="refused already"):
        refused(house, visit["tubes"][0]["specimen"])


def test_a_window_that_is_over_is_refused(house: AHouse) -> None:
    _, visit = drew(house)
    told = Refusal(specimen=visit["tubes"][0]["specimen"], reason="RH", said_by="Vera Holm")
    over = Window(due_from=now() - timedelta(hours=2), due_to=now() - timedelta(hours=1))

    with pytest.raises(NotRefused, match="over"):
        refuse(told, over, by=house.people[Role.CHARGE_NURSE], at=now())


def test_what_was_handed_over_and_what_was_refused_is_said_beside_each_container(house: AHouse) -> None:
    tablet, visit = drew(house)
    one, other = visit["tubes"]
    to = {"name": "Vera Holm", "role": "laboratory"}
    tablet.send([tablet.event("tube_handed_over", visit["id"], {"tube": one["id"], "to": to, "kept": "room"})])
    refused(house, other["specimen"])

    now_there = {specimen.specimen: specimen for specimen in specimens_now(now())}

    assert now_there[one["specimen"]].handed_over["to"] == to
    assert now_there[one["specimen"]].handed_over["kept"] == ["room"]
    assert now_there[other["specimen"]].refused.reason == "RH"


def test_the_command_keeps_a_refusal_under_a_name(
    house: AHouse, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, visit = drew(house)
    monkeypatch.setenv("BEDSIDE_HOME", str(house.settings.home))
    words = ["recollect", visit["tubes"][0]["specimen"], "--reason", "QS", "--said-by", "Vera Holm"]

    assert main([*words, "--by", "nobody"]) == 1
    assert "Sign in first" in capsys.readouterr().err
    assert main([*words, "--by", str(Role.CHARGE_NURSE)]) == 0
    assert capsys.readouterr().out.startswith("Kept. To be collected again: A-")
    with connected():
        assert Order.select().where(Order.note.contains("not enough blood (QS)")).exists()
