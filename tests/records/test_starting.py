"""A house is not served from a database that would lose something, nor by a machine that does not know the time."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from bedside.__main__ import main
from bedside.records import audit
from bedside.records.database import DatabaseUnfit, db, writing
from bedside.records.moments import now
from bedside.records.starting import CLOCK_MAY_LAG, refuse_unfit
from tests.a_house import AHouse
from tests.troubles import drop_trigger


def test_a_house_in_order_is_let_through(house: AHouse) -> None:
    refuse_unfit(now())


def test_a_clock_set_back_further_than_it_may_lag_is_refused(house: AHouse) -> None:
    last = now()
    with writing():
        audit.write(who="house", action="tested", object="-", at=last)

    refuse_unfit(last - CLOCK_MAY_LAG)
    with pytest.raises(DatabaseUnfit, match="Set the clock"):
        refuse_unfit(last - CLOCK_MAY_LAG - timedelta(milliseconds=1))


@pytest.mark.parametrize(
    "tampering",
    [
        "UPDATE audit SET who = 'nobody' WHERE seq = (SELECT max(seq) FROM audit) - 1",
        "DELETE FROM audit WHERE seq = (SELECT max(seq) FROM audit) - 1",
        "UPDATE audit SET hash = 'x' WHERE seq = (SELECT max(seq) FROM audit)",
    ],
)
def test_a_record_changed_behind_its_back_is_refused(house: AHouse, tampering: str) -> None:
    for trigger in ("audit_refuses_update", "audit_refuses_delete"):
        drop_trigger(trigger)
    db.execute_sql(tampering)

    with pytest.raises(DatabaseUnfit, match="tampered"):
        refuse_unfit(now())


def test_only_the_end_of_a_long_record_is_read_and_it_holds(house: AHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bedside.records.starting.LAST_ENTRIES", 3)

    refuse_unfit(now())
    assert len(audit.newest(3)) == 3


@pytest.mark.sqlite_only
def test_a_damaged_file_is_not_served_and_the_way_out_is_named(
    house: AHouse, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path / "damaged"))
    db.close()
    shutil.copytree(house.settings.home, tmp_path / "damaged")
    spoil(tmp_path / "damaged" / "bedside.db")

    assert main(["serve", "--port", "0"]) == 2

    said = capsys.readouterr().err
    assert "damaged" in said or "cannot be used" in said
    assert "Restore a backup" in said


def spoil(database: Path) -> None:
    """Zeros in the middle of the file, past its first page."""
    content = bytearray(database.read_bytes())
    content[4096 * 2 : 4096 * 40] = bytes(4096 * 38)
    database.write_bytes(content)
