"""Where a test directory comes from: the one that is built in, or a file of the laboratory's."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

from bedside.clinical.directory import BadCell, Directory, DirectoryRefused, read_directory


@cache
def built_in_directory() -> Directory:
    """The directory that comes with the app: common tests, mostly from memory, for a site to replace."""
    return read_directory(built_in_text())


def built_in_text() -> str:
    """The built-in directory as its CSV text."""
    return resources.files("bedside.clinical").joinpath("directory.csv").read_text(encoding="utf-8")


def read_directory_file(path: Path) -> Directory:
    """Read a CSV file in UTF-8; `DirectoryRefused` names every bad cell, `OSError` a file out of reach."""
    data = path.read_bytes()
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        why = "not UTF-8; save the file as CSV, UTF-8"
        raise DirectoryRefused([BadCell(line, "line", "", why)]) from error
    return read_directory(text)
