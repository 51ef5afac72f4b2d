"""The test directory in force: the latest that was loaded, read once for each version."""

from __future__ import annotations

from functools import lru_cache

from bedside.clinical.directory import Directory, read_directory
from bedside.records.tables import DirectoryVersion


def directory_now() -> Directory | None:
    """The directory in force, or None while none has been loaded."""
    newest = DirectoryVersion.select().order_by(DirectoryVersion.loaded_at.desc()).first()
    return _read(newest.hash, newest.text) if newest else None


@lru_cache(maxsize=4)
def _read(version: str, text: str) -> Directory:
    return read_directory(text)


def name_of(directory: Directory | None, code: str) -> str:
    """A test's name for people, or its code where the directory does not know it."""
    test = directory.find(code) if directory else None
    return test.name if test else code
