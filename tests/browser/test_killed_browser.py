"""A dead battery: what the tablet called saved is there when it starts again."""

from __future__ import annotations

import pytest

from .killable_browser import KillableBrowser
from .stand_in import StandIn
from .tablet import Tablet


@pytest.mark.parametrize("count", [1, 2, 7])
def test_what_was_called_saved_survives_the_death_of_the_browser(
    killable: KillableBrowser, stand_in: StandIn, count: int
):
    tablet = Tablet(killable.start(), stand_in.url).open()
    tablet.opens_offline()
    stand_in.stop()
    saved = [tablet.record() for _ in range(count)]
    killable.kill()

    again = Tablet(killable.start(), stand_in.url).open()

    found = again.events()
    assert [event["id"] for event in found] == [event["id"] for event in saved]
    assert again.status()["unsent"] == count
    assert again.status()["lost"] is None
    stand_in.start()
    again.all_sent()
    assert [event["seq"] for event in stand_in.stored.values()] == list(range(1, count + 1))


def test_a_death_after_sending_and_before_the_answer_makes_no_second_event(
    killable: KillableBrowser, stand_in: StandIn
):
    tablet = Tablet(killable.start(), stand_in.url).open()
    stand_in.faults.lose_answers = 1
    tablet.page.evaluate("void (window.stop = engine.subscribe(() => {}))")
    saved = tablet.record()
    tablet.until(state="waiting")
    killable.kill()

    again = Tablet(killable.start(), stand_in.url).open()
    again.all_sent()

    assert list(stand_in.stored) == [saved["id"]]
    assert again.record()["seq"] == 2
