"""A browser in a process group of its own, with a profile on disk: it can be killed as a dead battery would."""

from __future__ import annotations

import os
import signal
import subprocess
from pathlib import Path

from playwright.sync_api import Browser, Page, Playwright

from .browser_finder import FLAGS
from .waiting import wait_until

PORT_FILE = "DevToolsActivePort"


class KillableBrowser:
    """Chromium on one profile. `start` may be called again after `kill`; the profile stays."""

    def __init__(self, playwright: Playwright, path: str, profile: Path) -> None:
        self.playwright = playwright
        self.path = path
        self.profile = profile
        self.process: subprocess.Popen[bytes] | None = None
        self.browser: Browser | None = None

    def start(self) -> Page:
        """Start the process and give its page."""
        self.profile.mkdir(parents=True, exist_ok=True)
        port_file = self.profile / PORT_FILE
        port_file.unlink(missing_ok=True)  # a killed browser leaves the old one behind
        self.process = subprocess.Popen(
            [self.path, "--headless=new", *FLAGS, f"--user-data-dir={self.profile}", "--remote-debugging-port=0"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        wait_until(lambda: port_file.is_file() and len(port_file.read_text().split()) > 1, "the browser listens")
        port = port_file.read_text().split()[0]
        self.browser = self.playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        return self.browser.contexts[0].new_page()

    def kill(self) -> None:
        """SIGKILL to the whole group, at once: no page hears of it."""
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process = None
        if self.browser is not None:
            self.browser.close()
            self.browser = None
        for lock in self.profile.glob("Singleton*"):
            lock.unlink(missing_ok=True)  # else the next start believes that the first still runs
