"""Two servers on one PostgreSQL database, one of them with two processes: what comes to both at once counts once."""

from __future__ import annotations

import json
import shutil
import threading
import urllib.request
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bedside.records import audit
from bedside.records.tables import Answer, Audit, Event
from bedside.sync.verifying import checks
from tests.a_house import MARK, AHouse, ATablet
from tests.browser.house_process import HouseProcess

pytestmark = pytest.mark.postgres_only

LETTERS, IN_EACH = 12, 5


@pytest.fixture
def two_servers(house: AHouse, tmp_path: Path) -> Iterator[list[HouseProcess]]:
    """Each on a machine of its own, as far as its folder tells: they share the keys and the database."""
    shutil.copytree(house.settings.home, tmp_path / "second")
    servers = [HouseProcess(house.settings.home, workers=2), HouseProcess(tmp_path / "second")]
    try:
        for server in servers:
            server.start()
        yield servers
    finally:
        for server in servers:
            server.kill()


def test_the_same_letters_to_two_servers_at_once_are_kept_once_and_in_one_record(
    house: AHouse, two_servers: list[HouseProcess]
) -> None:
    tablet = house.tablet()
    visits = [visit["id"] for visit in tablet.packet()["visits"]]
    letters = [
        [tablet.event("site_touched", visits[number % len(visits)]) for _ in range(IN_EACH)]
        for number in range(LETTERS)
    ]
    before = Audit.select().count()

    answers = sent_at_once(tablet, letters, two_servers)

    ids = [event["id"] for letter in letters for event in letter]
    assert sorted(row.id for row in Event.select(Event.id)) == sorted(ids)
    assert Answer.select().count() == len(ids)
    told = {event: Counter(one["status"] for one in answers if one["id"] == event) for event in ids}
    assert {tuple(sorted(counted.items())) for counted in told.values()} == {(("known", 1), ("stored", 1))}
    assert Audit.select().count() == before + 2 * LETTERS
    assert audit.first_fault(audit.entries()) is None
    assert [check for check in checks() if check.fault] == []


def sent_at_once(tablet: ATablet, letters: list[list[Any]], servers: list[HouseProcess]) -> list[dict[str, Any]]:
    """Every letter to every server, each from a thread of its own, all begun together; gives every answer."""
    cookie = "; ".join(f"{one.key}={one.value}" for one in tablet.browser.client._cookies.values())
    began, answers = threading.Barrier(len(letters) * len(servers)), []

    def send(server: HouseProcess, letter: list[Any]) -> None:
        told = {"house": tablet.browser.house.id, "tablet": tablet.name, "schema": 1, "events": letter}
        headers = {**MARK, "Content-Type": "application/json", "Cookie": cookie}
        asked = urllib.request.Request(f"{server.origin}/tablet/events", json.dumps(told).encode(), headers)
        began.wait()
        with urllib.request.urlopen(asked, timeout=60) as answer:
            answers.extend(json.load(answer)["answers"])

    threads = [threading.Thread(target=send, args=(server, letter)) for letter in letters for server in servers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers
