"""Finds WebKitGTK and what drives it, and fetches it where there is none. A machine without it fails the run."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

from tests.debian import install_where_missing

SYSTEM_PYTHON = "/usr/bin/python3"
DRIVER, SCREEN = "WebKitWebDriver", "Xvfb"
BINDINGS = "import gi; gi.require_version('WebKit2', '4.1'); gi.require_version('Gtk', '3.0')"

DEBIAN_PACKAGES = ("webkit2gtk-driver", "xvfb", "python3-gi", "gir1.2-webkit2-4.1", "gir1.2-gtk-3.0")

ADVICE = (
    "The tests on WebKit need {missing}, and it could not be found or installed. That nothing is lost on the engine "
    f"many tablets have is not tested without it. Run: apt-get install {' '.join(DEBIAN_PACKAGES)}"
)


class NoWebKit(RuntimeError):
    """No WebKitGTK here, and none could be fetched."""


def find_webkit() -> None:
    """Make sure that driver, screen and bindings are there; as root on Debian they are installed.

    Raises NoWebKit, which fails the run.
    """
    install_where_missing(lambda: not _missing(), DEBIAN_PACKAGES)
    if missing := _missing():
        raise NoWebKit(ADVICE.format(missing=" and ".join(missing)))


def _missing() -> list[str]:
    programs = [name for name in (DRIVER, SCREEN) if not shutil.which(name)]
    return programs if _has_bindings() else [*programs, "WebKit2 4.1 for the system's Python"]


def _has_bindings() -> bool:
    if not Path(SYSTEM_PYTHON).exists():
        return False
    return subprocess.run([SYSTEM_PYTHON, "-c", BINDINGS], capture_output=True, check=False).returncode == 0
