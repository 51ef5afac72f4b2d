"""WebKitGTK with a profile on disk, over its WebDriver, in the words of the page that the other tests hold.

`WebKit` is the browser: started, killed, started again. `WebKitPage` has as many of Playwright's words as `Tablet` and
`OnTheWard` say, so that the same morning runs on both engines. Each wait looks again until a deadline.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import signal
import socket
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from .waiting import wait_until
from .webkit_finder import DRIVER, SCREEN, SYSTEM_PYTHON

WINDOW = Path(__file__).with_name("webkit_window.py")
PATIENCE_S = 60
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The name the standard gives to a reference to an element."""

EVALUATE = "const told = ({code}); return typeof told === 'function' ? told(arguments[0]) : told;"

FIND = """([css, text]) => [...document.querySelectorAll(css)].find(each =>
  each.getClientRects().length && !each.closest("[inert]")
  && (each.ariaLabel ?? each.innerText).toLowerCase().includes(text.toLowerCase())) ?? null"""


class DriverSaysNo(Exception):
    """The driver refused a command. name: the standard's word for why."""

    def __init__(self, name: str, says: str) -> None:
        super().__init__(f"{name}: {says}")
        self.name = name


@contextlib.contextmanager
def a_screen() -> Iterator[str]:
    """A display nobody looks at; gives its name once it takes connections."""
    reading, writing = os.pipe()
    command = [SCREEN, "-displayfd", str(writing), "-screen", "0", "1024x1400x24", "-nolisten", "tcp"]
    with subprocess.Popen(command, pass_fds=[writing], stderr=subprocess.DEVNULL) as running:
        os.close(writing)
        with os.fdopen(reading) as told:
            number = told.readline().strip()
        yield f":{number}"
        running.terminate()


class WebKit:
    """One browser on one profile. `start` may be called again after `kill`; the profile stays."""

    def __init__(self, screen: str, folder: Path) -> None:
        self.screen = screen
        self.folder = folder
        self.log = folder / "said.log"
        self.first_script = folder / "first.js"
        self.version = ""
        self._process: subprocess.Popen[bytes] | None = None
        folder.mkdir()
        self.first_script.write_text("")

    def start(self) -> WebKitPage:
        """Start driver and browser in a process group of their own, and give the browser's page."""
        port = _a_free_port()
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [DRIVER, f"--port={port}"],
                stdout=log,
                stderr=log,
                env={**os.environ, "DISPLAY": self.screen, "LIBGL_ALWAYS_SOFTWARE": "1", **self._own_home()},
                start_new_session=True,
            )
        driver = Driver(f"http://127.0.0.1:{port}")
        wait_until(driver.is_there, "WebKitWebDriver listens", PATIENCE_S)
        window = [str(WINDOW), str(self.folder / "profile"), str(self.first_script)]
        made = driver.begin({"webkitgtk:browserOptions": {"binary": SYSTEM_PYTHON, "args": window}})
        self.version = f"{made['browserName']} {made['browserVersion']}"
        return WebKitPage(driver)

    def kill(self) -> None:
        """SIGKILL to driver, browser and the processes with network and pages, at once: none hears of it."""
        if self._process is None:
            return
        os.killpg(self._process.pid, signal.SIGKILL)
        wait_until(lambda: not _somebody_in(self._process.pid), "the browser is dead", PATIENCE_S)
        self._process.wait()
        self._process = None

    def problems(self) -> list[str]:
        """What pages complained of, except that something could not be reached, or is not known to this engine."""
        said = self.log.read_text(encoding="utf-8", errors="replace").splitlines()
        errors = [line for line in said if line.startswith("CONSOLE") and " ERROR " in line and "NETWORK" not in line]
        return [line for line in errors if "Unrecognized Content-Security-Policy directive" not in line]

    def _own_home(self) -> dict[str, str]:
        run = self.folder / "run"
        run.mkdir(mode=0o700, exist_ok=True)
        return {"HOME": str(self.folder), "XDG_RUNTIME_DIR": str(run)}


def _a_free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as held:
        return int(held.getsockname()[1])


def _somebody_in(group: int) -> bool:
    """Whether a process of the group is there and not only waiting to be buried."""
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, _parent, its_group = path.read_text().rpartition(")")[2].split()[:3]
            if int(its_group) == group and state != "Z":
                return True
    return False


class Driver:
    """The W3C's WebDriver, spoken plainly."""

    def __init__(self, origin: str) -> None:
        self.origin = origin
        self.session = ""

    def is_there(self) -> bool:
        try:
            self._call("GET", "/status")
        except OSError:
            return False
        return True

    def begin(self, capabilities: dict[str, Any]) -> dict[str, Any]:
        """Open a session; gives what the browser says of itself."""
        made = self._call("POST", "/session", {"capabilities": {"alwaysMatch": capabilities}})
        self.session = f"/session/{made['sessionId']}"
        return made["capabilities"]

    def post(self, path: str, **what: Any) -> Any:
        return self._call("POST", self.session + path, what)

    def get(self, path: str) -> Any:
        return self._call("GET", self.session + path)

    def _call(self, method: str, path: str, what: dict[str, Any] | None = None) -> Any:
        body = None if what is None else json.dumps(what).encode()
        try:
            with urlopen(Request(self.origin + path, body, method=method), timeout=2 * PATIENCE_S) as answer:
                return json.load(answer)["value"]
        except HTTPError as refused:
            with refused:
                why = json.load(refused)["value"]
            raise DriverSaysNo(why["error"], why["message"]) from None


class WebKitPage:
    """The page, with Playwright's words."""

    def __init__(self, driver: Driver) -> None:
        self.driver = driver

    @property
    def url(self) -> str:
        return str(self.driver.get("/url"))

    def goto(self, url: str) -> None:
        self.driver.post("/url", url=url)

    def reload(self) -> None:
        self.driver.post("/refresh")

    def evaluate(self, code: str, argument: Any = None) -> Any:
        """An expression, or a function of one argument; a promise is waited for."""
        return self.driver.post("/execute/sync", script=EVALUATE.replace("{code}", code), args=[argument])

    def wait_for_function(self, code: str, timeout: float = PATIENCE_S * 1000) -> Any:
        return wait_until(lambda: _while_it_loads(lambda: self.evaluate(code)), code, timeout / 1000)

    def wait_for_url(self, url: str) -> None:
        wait_until(lambda: self.url == url, f"the page is {url}", PATIENCE_S)

    def wait_for_selector(self, selector: str) -> None:
        Found(self, *_css_and_text(selector)).reference()

    def locator(self, css: str, has_text: str = "") -> Found:
        return Found(self, css, has_text)

    def get_by_role(self, role: str, name: str = "") -> Found:
        return Found(self, {"button": "button", "textbox": "input, textarea"}[role], name)

    def fill(self, css: str, text: str) -> None:
        Found(self, css).fill(text)

    def screenshot(self, path: Path) -> None:
        path.write_bytes(base64.b64decode(self.driver.get("/screenshot")))

    def on(self, event: str, tell: Callable[..., None]) -> None:
        """Complaints are in the log of the browser: `WebKit.problems`."""

    def set_default_timeout(self, milliseconds: float) -> None:
        """One patience for all."""


@dataclass(frozen=True)
class Found:
    """What is visible and takes a touch, looked for when it is needed. text: what it says, in part."""

    page: WebKitPage
    css: str
    text: str = ""

    @property
    def first(self) -> Found:
        return self

    def reference(self) -> dict[str, str]:
        """The element, once it is there."""
        told = f"{self.css} with “{self.text}”"
        return wait_until(lambda: _while_it_loads(self._look), told, PATIENCE_S)

    def click(self) -> None:
        wait_until(lambda: _while_it_loads(self._click), f"{self.css} with “{self.text}” takes a touch", PATIENCE_S)

    def fill(self, text: str) -> None:
        self.page.driver.post(f"/element/{self.reference()[ELEMENT]}/clear")
        self.page.driver.post(f"/element/{self.reference()[ELEMENT]}/value", text=text)

    def inner_text(self) -> str:
        return str(self._asked("innerText"))

    def get_attribute(self, name: str) -> str | None:
        return self._asked(f"getAttribute('{name}')")

    def _asked(self, what: str) -> Any:
        """Found and asked in one go: a page may be drawn anew between two."""
        code = f"what => {{ const found = ({FIND})(what); return found && [found.{what}]; }}"
        told = wait_until(
            lambda: _while_it_loads(lambda: self.page.evaluate(code, [self.css, self.text])), self.css, PATIENCE_S
        )
        return told[0]

    def _look(self) -> dict[str, str] | None:
        return self.page.evaluate(FIND, [self.css, self.text])

    def _click(self) -> bool:
        there = self._look()
        if there:
            self.page.driver.post(f"/element/{there[ELEMENT]}/click")
        return there is not None


MOVING = {
    "stale element reference",
    "element click intercepted",
    "element not interactable",
    "javascript error",
    "no such element",
}
"""What a driver says of a page that is being drawn."""


def _while_it_loads(look: Callable[[], Any]) -> Any:
    """What `look` gives, or None while the page is being drawn."""
    try:
        return look()
    except DriverSaysNo as no:
        if no.name in MOVING:
            return None
        raise


def _css_and_text(selector: str) -> tuple[str, str]:
    return ("body", selector.removeprefix("text=")) if selector.startswith("text=") else (selector, "")
