"""The small script of the ward's page says what the server would say a while later, word for word."""

from __future__ import annotations

import html
from datetime import UTC, datetime, timedelta

from playwright.sync_api import BrowserContext

from bedside.clinical.rulebook_volumes import VOLUME_LIMITS
from bedside.clinical.timing import Window
from bedside.clinical.windows import OrderWindow
from bedside.settings import folder
from bedside.web.countdown import countdown

AT = datetime(2026, 11, 25, 4, 0, tzinfo=UTC)
LATER_MIN = (0, 1, 29, 30, 31, 59, 60, 61, 89, 90, 91, 150, 331, 332, 700, 900, 3000)


def window(*, is_level: bool) -> OrderWindow:
    """Opens in half an hour, is due in one hour, ends in an hour and a half."""
    earliest, aim, latest = (AT + timedelta(minutes=minutes) for minutes in (30, 60, 90))
    return OrderWindow(window=Window(earliest, aim, latest), follows="trough", is_level=is_level)


def test_the_script_says_what_the_server_says_later(profile: BrowserContext) -> None:
    windows = [window(is_level=is_level) for is_level in (True, False)]
    made = [countdown(one, AT, VOLUME_LIMITS) for one in windows]
    page = profile.new_page()
    page.clock.install(time=datetime(2031, 1, 1, tzinfo=UTC))  # A desk's own clock may show anything.
    page.set_content("".join(f'<b data-countdown="{html.escape(one.steps)}">{one.says}</b>' for one in made))
    page.add_script_tag(path=folder("static") / "js" / "pages" / "countdown.js", type="module")
    page.clock.run_for(5_100)

    before = 0
    for later in LATER_MIN:
        # Five seconds after each whole minute, the moment the script looks, nothing stands on an edge.
        page.clock.run_for(timedelta(minutes=later - before) // timedelta(milliseconds=1))
        before = later
        at = AT + timedelta(minutes=later, seconds=5)
        said = page.locator("b").all_inner_texts()
        assert said == [countdown(one, at, VOLUME_LIMITS).says for one in windows], f"{later} min later"
