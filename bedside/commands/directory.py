"""Check a test directory cell by cell, compare it with the one in force, and put it in force with --sign.

Without a house, or before any was signed, the built-in directory stands for the one in force. Exit status 2: it was
refused, each bad cell named on standard error.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bedside.clinical.directory import Comparison, Directory, DirectoryRefused, cautions, compare
from bedside.exchange.directory_file import built_in_directory, built_in_text, read_directory_file
from bedside.records.database import connected
from bedside.records.directory_now import NotSigned, directory_now, sign
from bedside.records.house import HouseMissing, open_house
from bedside.records.moments import now
from bedside.records.tables import Person
from bedside.settings import Settings

BAD_INPUT = 2


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=Path, nargs="?", help="the directory as CSV, UTF-8")
    parser.add_argument("--check", action="store_true", help="only check; do not compare")
    parser.add_argument("--sign", action="store_true", help="put it in force; name who signs with --by")
    parser.add_argument("--by", default="", metavar="SIGN_IN", help="the sign-in name of who signs")
    parser.add_argument("--note", default="", help="what is new, for whoever reads it later")
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
    return _sign(args) if args.sign else 0


def _sign(args: argparse.Namespace) -> int:
    """Put the checked file in force, under the name of somebody who has an account."""
    at = now()
    try:
        open_house(Settings.from_environment(), at)
        with connected():
            person = Person.get_or_none((Person.sign_in == args.by) & Person.disabled_at.is_null())
            if person is None:
                return _refuse([f"--by {args.by!r} is nobody's sign-in name. A directory is signed by name."])
            text = args.file.read_text(encoding="utf-8")
            sign(text, signer=person.name, by=person.id, note=args.note, at=at)
    except (HouseMissing, NotSigned) as refused:
        return _refuse([str(refused)])
    print(f"In force from now on, signed by {person.name}.")
    return 0


def _in_force() -> tuple[Directory, str]:
    """The directory to compare with, and what it is called."""
    try:
        open_house(Settings.from_environment(), now())
        with connected():
            found = directory_now()
    except HouseMissing:
        found = None
    return (found, "directory in force") if found else (built_in_directory(), "built-in directory")


def _report(directory: Directory, *, only_check: bool) -> list[str]:
    lines = [f"{len(directory.tests)} tests, every cell readable. {directory.version}"]
    lines += [f"caution: {sentence}" for sentence in cautions(directory)]
    if not only_check:
        before, called = _in_force()
        lines += _told(compare(before, directory), called)
    return lines


def _told(found: Comparison, called: str) -> list[str]:
    if found.is_same:
        return [f"the same tests as the {called}"]
    return [
        *(f"added: {test.code} ({test.name})" for test in found.added),
        *(f"removed: {test.code} ({test.name})" for test in found.removed),
        *(f"changed: {one.code} {one.column}: {one.before!r} -> {one.after!r}" for one in found.changed),
    ]


def _refuse(lines: list[str]) -> int:
    for line in lines:
        print(line, file=sys.stderr)
    return BAD_INPUT
