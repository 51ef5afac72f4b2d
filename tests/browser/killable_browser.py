"""A browser with a profile on disk that can be killed as a dead battery would."""

from __future__ import annotations

import contextlib
import os
import signal
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, Playwright
from playwright.sync_api import Error as BrowserError

from .browser_finder import FLAGS
from .waiting import wait_until

# Chromium's own mark on a profile in use: a link that reads HOST-PID.
LOCK = "SingletonLock"


class KillableBrowser:
    """Chromium on one profile. `start` may be called again after `kill`; the profile stays."""

    def __init__(self, playwright: Playwright, path: str, profile: Path) -> None:
        self.playwright = playwright
        self.path = path
        self.profile = profile
        self.context: BrowserContext | None = None

    def start(self, *more: str) -> Page:
        """Start the process, with more flags if need be, and give its page."""
        self.context = self.playwright.chromium.launch_persistent_context(
            self.profile, executable_path=self.path, args=[*FLAGS, *more], viewport={"width": 820, "height": 1180}
        )
        return self.context.new_page()

    def kill(self) -> None:
        """SIGKILL to the whole process group, at once: no page hears of it."""
        if self.context is None:
            return
        pid = self._pid()
        os.killpg(pid, signal.SIGKILL)  # the driver starts each browser in a group of its own
        wait_until(lambda: not _runs(pid), "the browser is dead")
        _forget(self.context)
        self.context = None
        for lock in self.profile.glob("Singleton*"):
            lock.unlink(missing_ok=True)  # else the next start believes that the first still runs

    def _pid(self) -> int:
        return int(os.readlink(self.profile / LOCK).rpartition("-")[2])


def _runs(pid: int) -> bool:
    """Whether a process is there and not only waiting to be buried."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def _forget(context: BrowserContext) -> None:
    with contextlib.suppress(BrowserError):  # the driver may have noticed by itself that the browser is gone
        context.close()
