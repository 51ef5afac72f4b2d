"""Installs the Debian packages a test needs, one worker at a time; not as root, or elsewhere, it does nothing."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

LOCK = Path(tempfile.gettempdir()) / "bedside-tests-install.lock"
"""apt waits for nobody who is reading its lists anew, so the workers wait for each other here."""


def install_where_missing(is_there: Callable[[], bool], packages: tuple[str, ...]) -> None:
    """Install `packages` unless `is_there`. What became of it the caller asks anew: a failure is theirs to tell."""
    if is_there() or not _can_install():
        return
    with _alone():
        if not is_there():
            quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
            patiently = ("apt-get", "-o", "DPkg::Lock::Timeout=600")
            subprocess.run([*patiently, "update"], check=False, env=quiet)
            subprocess.run([*patiently, "install", "-y", "--no-install-recommends", *packages], check=False, env=quiet)


def _can_install() -> bool:
    return os.geteuid() == 0 and shutil.which("apt-get") is not None


@contextmanager
def _alone() -> Iterator[None]:
    with LOCK.open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
