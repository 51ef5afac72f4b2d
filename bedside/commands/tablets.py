"""List the tablets, make a code that enrols one, take one out of use, or put it back."""

from __future__ import annotations

import argparse
import sys

from bedside.people.tablets import EnrolmentRefused, make_code
from bedside.records.database import connected, writing
from bedside.records.house import HouseMissing, open_house
from bedside.records.moments import now
from bedside.records.tables import Tablet
from bedside.records.tablets import TabletUnknown, TabletUseRefused, restore, revoke
from bedside.settings import Settings


def arguments(parser: argparse.ArgumentParser) -> None:
    acts = parser.add_subparsers(dest="act", required=True, metavar="ACT")
    acts.add_parser("list", help="every tablet, the one heard from last first")
    code = acts.add_parser("code", help="make a code that enrols one tablet within a quarter of an hour")
    code.add_argument("tablet", metavar="NAME", help="the name on the tablet's back")
    revoke = acts.add_parser("revoke", help="take a tablet out of use; what it still sends is set aside")
    revoke.add_argument("tablet", metavar="TABLET")
    restore = acts.add_parser("restore", help="put a tablet back in use; what was set aside stays so")
    restore.add_argument("tablet", metavar="TABLET")


def run(args: argparse.Namespace) -> int:
    try:
        open_house(Settings.from_environment(), now())
        with connected():
            return _list() if args.act == "list" else ACTS[args.act](args.tablet)
    except (EnrolmentRefused, HouseMissing, TabletUnknown, TabletUseRefused) as refused:
        print(refused, file=sys.stderr)
        return 2


def _list() -> int:
    for tablet in Tablet.select().order_by(Tablet.last_seen_at.desc()):
        skew = "" if tablet.skew_ms is None else f"  clock off by {tablet.skew_ms / 1000:.1f} s"
        out = f"  out of use since {tablet.revoked_at}" if tablet.revoked_at else ""
        print(f"{tablet.id}  last heard {tablet.last_seen_at}  up to number {tablet.top_seq}{skew}{out}")
    return 0


def _code(name: str) -> int:
    with writing():
        code = make_code(name, by=None, at=now())
    print(f"{code[:4]} {code[4:]}")
    return 0


def _revoke(tablet: str) -> int:
    revoke(tablet, now())
    print(f"{tablet} is out of use. What it still sends is kept and set aside for a person.")
    return 0


def _restore(tablet: str) -> int:
    restore(tablet, now())
    print(f"{tablet} is in use again. What was set aside meanwhile stays so until a person settles it.")
    return 0


ACTS = {"code": _code, "revoke": _revoke, "restore": _restore}
