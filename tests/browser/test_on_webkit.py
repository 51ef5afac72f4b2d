"""The other engine people carry: the offline morning and the dead battery on WebKitGTK.

What this engine cannot show is said in `tests/README.md`: installed on a home screen, the seven days, a suspended
process, camera and touch.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from .at_the_bedside import CLOCK, SCAN
from .certificate import write_certificate
from .house_process import HouseProcess
from .on_the_ward import OnTheWard
from .stand_in import StandIn
from .tablet import Tablet
from .test_a_morning import outcomes, unsent_events
from .waiting import wait_until
from .webkit import WebKit, WebKitPage, a_screen
from .webkit_finder import find_webkit


@pytest.fixture(scope="module")
def screen() -> Iterator[str]:
    find_webkit()
    with a_screen() as name:
        yield name


@pytest.fixture
def webkit(screen: str, tmp_path: Path) -> Iterator[WebKit]:
    browser = WebKit(screen, tmp_path / "webkit")
    yield browser
    browser.kill()
    assert browser.problems() == []


@pytest.fixture
def secured(filled_house: Path, tmp_path: Path) -> Iterator[HouseProcess]:
    """The real house over HTTPS, as tablets meet it: this engine keeps no secure cookie of an address without."""
    house = HouseProcess(shutil.copytree(filled_house, tmp_path / "house"), certificate=write_certificate(tmp_path))
    house.start()
    yield house
    house.kill()


class OnWebKit(OnTheWard):
    """The same person and the same ward; the reader's keys are made in the page."""

    def __init__(self, webkit: WebKit, house: HouseProcess) -> None:
        webkit.first_script.write_text(CLOCK)
        self.started = webkit.start()
        super().__init__(self, house, webkit.folder)

    def new_page(self) -> WebKitPage:
        return self.started

    def add_init_script(self, _script: str) -> None:
        """Each page begins with the clock already."""

    def scan(self, text: str, then: str) -> None:
        self.page.evaluate(SCAN, text)
        self.wait(then)


def test_an_offline_morning_on_webkit_arrives_whole_and_once(webkit: WebKit, secured: HouseProcess):
    ward = OnWebKit(webkit, secured)
    ward.sign_in()
    ward.takes_the_round()

    secured.kill()
    ward.starts_anew()
    ward.wait("round")
    ward.draws("Nakagawa", tubes=1)
    written = unsent_events(ward.page)
    assert len(written) > 10
    assert "unsent" in ward.status()

    secured.start()

    wait_until(lambda: "all sent" in ward.status(), "everything is sent", seconds=60)
    assert secured.events() == [(event["id"], event["seq"]) for event in written]
    assert outcomes(secured)["Nakagawa"] == "collected"


def test_on_webkit_what_was_called_saved_survives_the_death_of_the_browser(webkit: WebKit, stand_in: StandIn):
    tablet = Tablet(webkit.start(), stand_in.url).open()
    tablet.opens_offline()
    stand_in.stop()
    saved = [tablet.record() for _ in range(7)]
    webkit.kill()

    again = Tablet(webkit.start(), stand_in.url).open()

    assert [event["id"] for event in again.events()] == [event["id"] for event in saved]
    assert again.status()["unsent"] == 7
    assert again.status()["lost"] is None
    stand_in.start()
    again.all_sent()
    assert [(event["id"], event["seq"]) for event in stand_in.stored.values()] == [
        (event["id"], event["seq"]) for event in saved
    ]
