"""`bedside verify`: whatever was tampered with, it says so and names the first bad thing."""

from __future__ import annotations

import pytest

from bedside.__main__ import main
from bedside.records.database import db
from tests.a_house import AHouse, drawn, visit_of
from tests.troubles import drop_trigger, without_references

ALONE = "without looking at references"


@pytest.fixture
def worked(house: AHouse, monkeypatch: pytest.MonkeyPatch) -> AHouse:
    """A house in which two patients were drawn, one of them wrongly."""
    monkeypatch.setenv("BEDSIDE_HOME", str(house.settings.home))
    tablet = house.tablet()
    packet = tablet.packet()
    tablet.send(drawn(tablet, visit_of(packet, "Kaarina")))
    karin = visit_of(packet, "Karin")
    tablet.send([tablet.event("tube_filled", karin["id"], {"tube": karin["tubes"][0]["id"]})])
    return house


def test_a_house_in_order_is_said_to_be(worked: AHouse, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify"]) == 0

    told = capsys.readouterr()
    assert [line.rpartition(": ")[2] for line in told.out.splitlines()] == ["in order"] * 9
    assert told.err == ""


@pytest.mark.parametrize(
    ("statements", "names"),
    [
        (["UPDATE visit_now SET outcome = 'refused' WHERE outcome = 'collected'"], "outcome"),
        (["DELETE FROM visit_now"], "visit"),
        (["UPDATE order_now SET state = 'cancelled'"], "state"),
        (["DELETE FROM incident"], "incident"),
        (["DELETE FROM finding_now"], "finding"),
        (
            ["DROP TRIGGER event_refuses_update", "UPDATE event SET body = replace(body, 'spoken', 'band')"],
            "body of event",
        ),
        (
            ["DROP TRIGGER event_refuses_delete", ALONE, "DELETE FROM event WHERE kind = 'taped'"],
            "answer",
        ),
        (["DROP TRIGGER audit_refuses_update", "UPDATE audit SET who = 'p-x' WHERE seq = 3"], "entry 3"),
        (["DROP TRIGGER audit_refuses_delete", "DELETE FROM audit WHERE seq = 2"], "entry 2"),
        ([ALONE, "DELETE FROM ward"], "patient"),
        (["DROP TRIGGER rulebook_refuses_update", "UPDATE rulebook SET text = replace(text, '60', '90')"], "rulebook"),
    ],
)
def test_tampering_is_found_and_named(
    worked: AHouse, capsys: pytest.CaptureFixture[str], statements: list[str], names: str
) -> None:
    for statement in statements:
        if statement == ALONE:
            without_references()
        elif statement.startswith("DROP TRIGGER "):
            drop_trigger(statement.removeprefix("DROP TRIGGER "))
        else:
            db.execute_sql(statement)
    db.close()

    assert main(["verify"]) == 1

    told = capsys.readouterr().err
    assert names in told.lower() and len(told.splitlines()) == 1


def test_without_a_house_there_is_nothing_to_verify(
    tmp_path: object, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path))

    assert main(["verify"]) == 2
    assert "bedside init" in capsys.readouterr().err
