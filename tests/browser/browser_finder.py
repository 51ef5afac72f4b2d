"""Finds the browser the tests drive, and fetches one where there is none. A missing browser fails the run."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from tests.debian import install_where_missing

SYSTEM_NAMES = ("chromium", "chromium-browser", "google-chrome")

WITHOUT_WINDOWS = "chromium-headless-shell"
"""The same browser without the windows around its pages: a third less work a test. It keeps no profile on the disk."""

DEBIAN_PACKAGES = ("chromium", "fonts-dejavu-core", "fonts-noto-core", "fonts-noto-cjk")

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",  # /dev/shm is small in a container, and the browser dies of it
)

ADVICE = (
    "The browser tests need Chromium, and none could be found or installed. What they promise (nothing recorded is "
    "lost) is not tested without it. Run: apt-get install chromium, or: playwright install --with-deps chromium"
)


class NoBrowser(RuntimeError):
    """No browser here, and none could be fetched."""


def find_browser(playwrights_own: str) -> str:
    """The path of a Chromium: the system's, Playwright's own, or one installed now.

    Raises NoBrowser, which fails the run.
    """
    if not _existing(playwrights_own):
        install_where_missing(lambda: _on_the_system() is not None, DEBIAN_PACKAGES)
    if found := _on_the_system() or _existing(playwrights_own):
        return found
    subprocess.run([sys.executable, "-m", "playwright", "install", "--with-deps", "chromium"], check=False)
    return _existing(playwrights_own) or _none()


def without_windows(browser: str) -> str:
    """The same engine without windows, where there is one or one can be installed; else `browser` itself."""
    install_where_missing(lambda: shutil.which(WITHOUT_WINDOWS) is not None, (WITHOUT_WINDOWS,))
    return shutil.which(WITHOUT_WINDOWS) or browser


def _on_the_system() -> str | None:
    return next((path for name in SYSTEM_NAMES if (path := shutil.which(name))), None)


def _existing(path: str) -> str | None:
    return path if Path(path).is_file() else None


def _none() -> str:
    raise NoBrowser(ADVICE)
