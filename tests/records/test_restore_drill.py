"""The drill: a backup taken while tablets send, put back in another place, checked, and refilled by the tablets."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest

from bedside.__main__ import main
from bedside.records.backups import back_up, restore
from bedside.records.database import connected, db
from bedside.records.moments import now
from bedside.records.tables import Event
from bedside.sync.verifying import checks
from tests.a_house import AHouse, settings_at, visit_of

LETTERS = 30


def test_a_backup_taken_while_tablets_send_can_be_restored_and_is_filled_up_again(
    house: AHouse, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), "Kaarina")["id"]
    letters = [[tablet.event("site_touched", visit) for _ in range(3)] for _ in range(LETTERS)]
    answered: list[str] = []
    half_way = threading.Event()

    def send() -> None:
        for number, letter in enumerate(letters):
            answered.extend(one["id"] for one in tablet.send(letter))
            if number == LETTERS // 3:
                half_way.set()

    sending = threading.Thread(target=send)
    sending.start()
    half_way.wait()
    before = set(answered)
    with connected():
        back_up(tmp_path / "house.backup")
    sending.join()
    db.close()

    elsewhere = tmp_path / "elsewhere"
    restore(tmp_path / "house.backup", settings_at(elsewhere), now())
    for key in (house.settings.home / "keys").iterdir():
        (elsewhere / "keys" / key.name).write_bytes(key.read_bytes())
    monkeypatch.setenv("BEDSIDE_HOME", str(elsewhere))
    assert main(["verify"]) == 0

    restored = AHouse.opened(elsewhere)
    with connected():
        held = {row.id for row in Event.select(Event.id)}
    assert before <= held <= {event["id"] for letter in letters for event in letter}
    offered = offer_again(restored, tablet.name, letters)
    with connected():
        assert Event.select().count() == 3 * LETTERS
        assert [check for check in checks() if check.fault] == []
    assert offered.count("known") == len(held) and offered.count("stored") == 3 * LETTERS - len(held)


def offer_again(house: AHouse, name: str, letters: list[list[dict[str, Any]]]) -> list[str]:
    """What tablets do when they meet a house that was restored: everything again, in its order."""
    tablet = house.tablet()
    tablet.name = name
    return [answer["status"] for letter in letters for answer in tablet.send(letter)]
