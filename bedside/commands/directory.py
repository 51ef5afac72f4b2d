"""Check a test directory cell by cell, and compare it with the one that is built in."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bedside.clinical.directory import Comparison, Directory, DirectoryRefused, cautions, compare
from bedside.exchange.directory_file import built_in_directory, built_in_text, read_directory_file

BAD_INPUT = 2


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=Path, nargs="?", help="the directory as CSV, UTF-8")
    parser.add_argument("--check", action="store_true", help="only check; do not compare")
    parser.add_argument("--show", action="store_true", help="write out the built-in directory as CSV")


def run(args: argparse.Namespace) -> int:
    if args.show:
        print(built_in_text(), end="")
        return 0
    if args.file is None:
        return _refuse(["FILE is missing. Name the CSV file to check, or use --show for the built-in one."])
    try:
        directory = read_directory_file(args.file)
    except OSError as error:
        return _refuse([f"FILE {args.file}: {error.strerror}. Nothing was checked."])
    except DirectoryRefused as refused:
        return _refuse([str(problem) for problem in refused.problems])
    for line in _report(directory, only_check=args.check):
        print(line)
    return 0


def _report(directory: Directory, *, only_check: bool) -> list[str]:
    lines = [f"{len(directory.tests)} tests, every cell readable. {directory.version}"]
    lines += [f"caution: {sentence}" for sentence in cautions(directory)]
    if not only_check:
        lines += _told(compare(built_in_directory(), directory))
    return lines


def _told(found: Comparison) -> list[str]:
    if found.is_same:
        return ["the same tests as the built-in directory"]
    return [
        *(f"added: {test.code} ({test.name})" for test in found.added),
        *(f"removed: {test.code} ({test.name})" for test in found.removed),
        *(f"changed: {one.code} {one.column}: {one.before!r} -> {one.after!r}" for one in found.changed),
    ]


def _refuse(lines: list[str]) -> int:
    for line in lines:
        print(line, file=sys.stderr)
    return BAD_INPUT
