"""Real Chromium against a real server on the loopback interface."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Playwright, sync_playwright

from bedside.settings import folder

from .a_round import a_round
from .at_the_bedside import Bedside
from .browser_finder import FLAGS, find_browser, without_windows
from .house_process import HouseProcess, fill_house
from .killable_browser import KillableBrowser
from .stand_in import StandIn, copy_static, make_packet
from .tablet import Tablet, open_tablet

NO_WORKER = "navigator.serviceWorker.register = () => new Promise(() => {});"  # one that never gets ready


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="session")
def browser_path(playwright: Playwright) -> str:
    """The browser; a run without one fails."""
    return find_browser(playwright.chromium.executable_path)


@pytest.fixture(scope="session")
def browser(playwright: Playwright, browser_path: str) -> Iterator[Browser]:
    running = playwright.chromium.launch(executable_path=without_windows(browser_path), args=list(FLAGS))
    yield running
    running.close()


@pytest.fixture
def profile(browser: Browser) -> Iterator[BrowserContext]:
    """A fresh browser profile, kept in memory; for anything about the disk use `killable`."""
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    yield context
    context.close()


@pytest.fixture
def whole_profile(playwright: Playwright, browser_path: str) -> Iterator[BrowserContext]:
    """A fresh profile in the whole Chromium, windows and all, as on a tablet."""
    running = playwright.chromium.launch(executable_path=browser_path, args=list(FLAGS))
    yield running.new_context(viewport={"width": 820, "height": 1180})
    running.close()


@pytest.fixture
def screens_profile(browser: Browser) -> Iterator[BrowserContext]:
    """The same without the service worker, which keeps the whole app once more: for tests of what the screens say."""
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    context.add_init_script(NO_WORKER)
    yield context
    context.close()


@pytest.fixture
def killable(playwright: Playwright, browser_path: str, tmp_path: Path) -> Iterator[KillableBrowser]:
    """A browser with its profile on disk, to be killed."""
    browser = KillableBrowser(playwright, browser_path, tmp_path / "profile")
    yield browser
    browser.kill()


@pytest.fixture(scope="session")
def engine_files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_static(tmp_path_factory.mktemp("files") / "static")


@pytest.fixture
def stand_in(engine_files: Path) -> Iterator[StandIn]:
    """A house of a few lines with faults on demand."""
    house = StandIn(engine_files)
    house.packet = make_packet()
    house.start()
    yield house
    house.stop()


@pytest.fixture
def house() -> Iterator[StandIn]:
    """The stand-in with the real screens and a round of five."""
    house = StandIn(folder("static"))
    house.packet = a_round()
    house.start()
    yield house
    house.stop()


@pytest.fixture
def closed_app(screens_profile: BrowserContext, house: StandIn) -> Iterator[Bedside]:
    """The real screens, not opened yet; whatever the browser complains of fails the test."""
    held = Bedside(screens_profile, house)
    yield held
    assert held.problems == []


@pytest.fixture
def bedside(closed_app: Bedside) -> Bedside:
    """The real screens, at the round."""
    return closed_app.to_the_round()


@pytest.fixture
def tablet(profile: BrowserContext, stand_in: StandIn) -> Tablet:
    """A tablet that has met the stand-in and holds its packet."""
    held = open_tablet(profile, stand_in.url)
    held.page.evaluate("engine.refreshPacket()")
    return held


@pytest.fixture
def another_tab(profile: BrowserContext, stand_in: StandIn) -> Callable[[], Tablet]:
    """Opens one more tab of the same tablet."""
    return lambda: open_tablet(profile, stand_in.url)


@pytest.fixture(scope="session")
def filled_house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's ward, made once: hashing everybody's passphrase takes its time."""
    return fill_house(tmp_path_factory.mktemp("ward") / "house")


@pytest.fixture
def server(filled_house: Path, tmp_path: Path) -> Iterator[HouseProcess]:
    """The real `bedside serve` on a free port, with a house of its own; can be killed and started again."""
    house = HouseProcess(shutil.copytree(filled_house, tmp_path / "house"))
    house.start()
    yield house
    house.kill()
