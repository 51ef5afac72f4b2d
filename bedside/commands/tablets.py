"""List the tablets that have sent events, and how far each has got."""

from __future__ import annotations

import argparse
import sys

from bedside.records.database import connected
from bedside.records.house import HouseMissing, open_house
from bedside.records.moments import now
from bedside.records.tables import Tablet
from bedside.settings import Settings


def arguments(parser: argparse.ArgumentParser) -> None:
    acts = parser.add_subparsers(dest="act", required=True, metavar="ACT")
    acts.add_parser("list", help="every tablet, the one heard from last first")


def run(args: argparse.Namespace) -> int:
    try:
        open_house(Settings.from_environment(), now())
    except HouseMissing as missing:
        print(missing, file=sys.stderr)
        return 2
    with connected():
        for tablet in Tablet.select().order_by(Tablet.last_seen_at.desc()):
            skew = "" if tablet.skew_ms is None else f"  clock off by {tablet.skew_ms / 1000:.1f} s"
            print(f"{tablet.id}  last heard {tablet.last_seen_at}  up to number {tablet.top_seq}{skew}")
    return 0
