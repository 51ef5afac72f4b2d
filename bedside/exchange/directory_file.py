"""Where a test directory comes from: the one that is built in, or a file of the laboratory's."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

from bedside.clinical.directory import BadCell, Directory, DirectoryRefused, read_directory


@cache
def built_in_directory() -> Directory:
    """The directory that comes with the app: common morning tests, most of it from memory, for a site to replace."""
    return read_directory(built_in_text())


def built_in_text() -> str:
    """The built-in directory as its CSV text."""
    return resources.files("bedside.clinical").joinpath("directory.csv").read_text(encoding="utf-8")


def read_directory_file(path: Path) -> Directory:
    """Read a directory from a CSV file in UTF-8; `DirectoryRefused` names every bad cell, `OSError` a bad file."""
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise DirectoryRefused(
            [BadCell(line, "line", "", "not UTF-8; save the file as CSV, UTF-8")]
        ) from error
    return read_directory(text)
