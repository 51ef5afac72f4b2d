"""Take an orders file in: every row is checked first, then all of it is kept or nothing.

Exit status 0: taken in (or, with --check, fit to be). 1: refused, each bad cell named on standard error.
2: the file or the house cannot be used at all.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bedside.exchange.csv_rows import LARGEST_BYTES
from bedside.exchange.orders_in import check_orders, take_in_orders
from bedside.exchange.trouble import FileRefused, FileUnusable
from bedside.records.house import HouseMissing, open_house
from bedside.records.moments import now
from bedside.records.orders import TakenIn
from bedside.settings import Settings

DONE, REFUSED, UNUSABLE = 0, 1, 2


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="CSV in UTF-8; `-` reads standard input")
    parser.add_argument("--check", action="store_true", help="only check, keep nothing")


def run(args: argparse.Namespace) -> int:
    try:
        data = read(args.file)
        open_house(Settings.from_environment(), now())
        print(_checked(data) if args.check else _taken_in(data, args.file))
    except FileRefused as refused:
        print(refused, file=sys.stderr)
        print(f"Nothing was taken in: {_count(len(refused.troubles), 'bad cell')}.", file=sys.stderr)
        return REFUSED
    except (FileUnusable, HouseMissing) as unusable:
        print(unusable, file=sys.stderr)
        return UNUSABLE
    return DONE


def read(name: str) -> bytes:
    """The file's bytes, no more than show that it is too large. FileUnusable: it cannot be opened."""
    if name == "-":
        return sys.stdin.buffer.read(LARGEST_BYTES + 1)
    try:
        with Path(name).open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise FileUnusable(f"{name} cannot be read: {error.strerror}. Nothing was taken in.") from None


def _checked(data: bytes) -> str:
    return f"{_count(check_orders(data, at=now()), 'order')} could be taken in. Nothing was kept."


def _taken_in(data: bytes, name: str) -> str:
    return told(take_in_orders(data, file_name=Path(name).name, at=now()))


def told(taken: TakenIn) -> str:
    """What became of a file, in a sentence or two."""
    if taken.batch is None:
        return "This file was taken in before. Nothing changed."
    known = f" {_count(taken.known, 'order')} were known and stay as they are." if taken.known else ""
    nurse = f" {_count(taken.nurse_collect, 'order')} for a nurse to collect." if taken.nurse_collect else ""
    patients = f"{_count(taken.patients_new, 'new patient')}, {taken.patients_changed} changed"
    return f"{_count(taken.new, 'order')} taken in; {patients}.{known}{nurse}"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
