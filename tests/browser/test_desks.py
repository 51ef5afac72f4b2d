"""The desks in a real browser: they fit, read well, refuse what is not theirs, and look again by themselves."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect
from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from bedside.people.roles import Role
from bedside.records.database import connected, writing
from bedside.web.guard import cookie_name
from tests.web.a_ward import AWard, one_of_everything, worst_day

PAGES = (
    (Role.CHARGE_NURSE, "/ward/"),
    (Role.CHARGE_NURSE, "/ward/patients/{kaarina}"),
    (Role.CHARGE_NURSE, "/ward/patients/{sena}"),
    (Role.CHARGE_NURSE, "/ward/set-aside"),
    (Role.CHARGE_NURSE, "/ward/timed/"),
    (Role.CHARGE_NURSE, "/ward/blood/"),
    (Role.KEEPER, "/house/directory/versions/"),
    (Role.SAFETY_OFFICER, "/safety/"),
    (Role.SAFETY_OFFICER, "/safety/incidents/{fainted}"),
    (Role.KEEPER, "/house/"),
    (Role.KEEPER, "/house/people"),
    (Role.KEEPER, "/house/tablets"),
    (Role.KEEPER, "/house/directory"),
    (Role.KEEPER, "/house/rulebook"),
    (Role.SAFETY_OFFICER, "/house/rulebook/change"),
    (Role.SAFETY_OFFICER, "/house/rulebook/proposals"),
    (Role.SAFETY_OFFICER, "/house/rulebook/proposals/{proposal}"),
    (Role.SAFETY_OFFICER, "/house/rulebook/editions"),
    (Role.KEEPER, "/house/audit"),
)
WIDTHS = ((1280, 800), (820, 1180), (360, 740))
TOUCHED = "button, nav a, summary, select, input:not([type=hidden], [type=radio], [type=checkbox]), label.choice"
HEIGHTS = "all => all.filter(one => one.offsetParent).map(one => one.getBoundingClientRect().height)"
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


class Quiet(WSGIRequestHandler):
    """Says nothing on the terminal."""

    def log(self, type: str, message: str, *args: object) -> None:
        pass


class Served:
    """The invented ward on a port of this machine."""

    def __init__(self, ward: AWard) -> None:
        self.ward = ward
        self.port = 0
        self.server: BaseWSGIServer | None = None

    def start(self) -> None:
        """Listen again, on the same port as before if there was one."""
        self.server = make_server("127.0.0.1", self.port, self.ward.app, threaded=True, request_handler=Quiet)
        self.port = self.server.server_port
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()

    def stop(self) -> None:
        if self.server is not None:
            self.server.shutdown()
            self.server.server_close()
            self.thread.join()
            self.server = None

    def address(self, path: str) -> str:
        return f"http://localhost:{self.port}{path}"

    def sign_in(self, context: BrowserContext, role: str) -> None:
        """Give the browser a session; a `__Host-` cookie wants a secure address and counts for localhost."""
        name = cookie_name(self.ward.app.config["HOUSE"])
        held = self.ward.sitting(role).client.get_cookie(name, domain="localhost")
        assert held is not None
        context.add_cookies(
            [
                {
                    "name": name,
                    "value": held.value,
                    "url": f"https://localhost:{self.port}/",
                    "secure": True,
                    "httpOnly": True,
                    "sameSite": "Strict",
                }
            ]
        )


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with AWard.opened(tmp_path / "house") as ward:
        one = Served(ward)
        one.start()
        yield one
        one.stop()


def open_page(served: Served, context: BrowserContext, role: str, path: str) -> tuple[Page, list[str]]:
    """The page, and what the browser complained about (a refused style or script is a complaint)."""
    served.sign_in(context, role)
    page, complaints = context.new_page(), []
    page.on("console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(served.address(path))
    return page, complaints


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Served, dict[str, str]]]:
    """One ward with each state once, only looked at."""
    with AWard.opened(tmp_path_factory.mktemp("everything") / "house") as ward:
        one, made = Served(ward), one_of_everything(ward)
        one.start()
        yield one, made
        one.stop()


@pytest.fixture(scope="module")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Served, dict[str, str]]]:
    """The same with forty patients more, on the worst day, only looked at."""
    with AWard.opened(tmp_path_factory.mktemp("crowded") / "house") as ward:
        one, made = Served(ward), one_of_everything(ward)
        worst_day(ward)
        one.start()
        yield one, made
        one.stop()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme="light")
    yield context
    context.close()


@pytest.mark.parametrize(("role", "path"), PAGES)
def test_the_page_meets_wcag_aa_by_day_and_night(
    everything: tuple[Served, dict[str, str]], context: BrowserContext, role: Role, path: str
) -> None:
    served, made = everything
    page, complaints = open_page(served, context, role, path.format(**made))

    by_day = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
    page.emulate_media(color_scheme="dark")
    by_night = Axe().run(page, options={"runOnly": {"type": "rule", "values": ["color-contrast"]}})

    for found in (by_day, by_night):
        assert [one["id"] for one in found.response["violations"]] == []
        assert "color-contrast" in {one["id"] for one in found.response["passes"]}
    assert complaints == []


@pytest.mark.parametrize(("role", "path"), PAGES)
def test_nothing_has_to_be_scrolled_sideways_and_all_is_large_enough_to_touch(
    crowded: tuple[Served, dict[str, str]], context: BrowserContext, role: Role, path: str
) -> None:
    served, made = crowded
    page, _ = open_page(served, context, role, path.format(**made))
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width

    heights = page.eval_on_selector_all(TOUCHED, HEIGHTS)

    assert heights
    assert min(heights) >= 44


def test_the_ward_page_shows_a_new_draw_by_itself(served: Served, browser: Browser) -> None:
    context = browser.new_context()
    served.sign_in(context, Role.CHARGE_NURSE)
    page = context.new_page()
    page.clock.install()
    page.goto(served.address("/ward/"))
    expect(page.locator("h1")).to_have_text("No draws are asked for on this ward.")
    with connected(), writing():
        served.ward.order(served.ward.patient("Okoro, Ada", "12"))

    page.clock.run_for(30_000)

    expect(page.locator("h1")).to_have_text("One draw is still to come, none late.")


def test_looking_again_is_marked_on_the_way_and_leaves_reader_and_address_where_they_were(
    served: Served, browser: Browser
) -> None:
    worst_day(served.ward)
    context = browser.new_context()
    served.sign_in(context, Role.CHARGE_NURSE)
    page = context.new_page()
    page.clock.install()
    page.goto(served.address("/ward/"))
    page.evaluate("scrollTo(0, 900)")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))

    with page.expect_event("load"):
        page.clock.run_for(30_000)

    assert [url for url in asked if "/ward/" in url] == [served.address("/ward/?refresh=1")] * 2
    page.wait_for_function("scrollY === 900")
    assert page.url == served.address("/ward/")


def test_when_the_server_is_gone_the_page_stays_and_says_so(served: Served, browser: Browser) -> None:
    one_of_everything(served.ward)
    context = browser.new_context()
    served.sign_in(context, Role.CHARGE_NURSE)
    page = context.new_page()
    page.clock.install()
    page.goto(served.address("/ward/"))
    served.stop()

    page.clock.run_for(30_000)

    expect(page.locator(".stale")).to_contain_text("The server does not answer.")
    expect(page.get_by_role("link", name="Okoro, Ada")).to_be_visible()

    served.start()
    page.clock.run_for(30_000)

    expect(page.locator(".stale")).to_be_hidden()


def test_an_order_is_held_without_any_script(served: Served, browser: Browser) -> None:
    made = one_of_everything(served.ward)
    context = browser.new_context(java_script_enabled=False)
    page, _ = open_page(served, context, Role.CHARGE_NURSE, f"/ward/patients/{made['katariina']}")

    page.get_by_label("Reason, or note").fill("at X-ray")
    page.get_by_role("button", name="Hold").click()

    expect(page.get_by_role("status").filter(has_text="Held.")).to_be_visible()
    expect(page.get_by_role("cell", name="held")).to_contain_text("at X-ray")
