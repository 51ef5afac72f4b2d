"""Write down that the laboratory refused a specimen, and send its orders out again with the reason.

Exit status 0: kept. 1: refused, with the reason on standard error. 2: the house cannot be used.
"""

from __future__ import annotations

import argparse
import sys
from datetime import timedelta

from bedside.clinical.refusals import REFUSALS
from bedside.records.database import connected
from bedside.records.house import HouseMissing, open_house
from bedside.records.moments import now
from bedside.records.sending_again import Window
from bedside.records.specimens_refused import NotRefused, Refusal, refuse
from bedside.records.tables import Person
from bedside.settings import Settings

DONE, REFUSED, UNUSABLE = 0, 1, 2


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("specimen", metavar="SPECIMEN", help="the number on the label")
    parser.add_argument("--reason", required=True, choices=tuple(REFUSALS), help="a code of HL7 table 0490")
    parser.add_argument("--said-by", required=True, help="who at the laboratory said so")
    parser.add_argument("--by", required=True, metavar="SIGN_IN", help="the sign-in name of who writes it down")
    parser.add_argument("--note", default="", help="anything the collector should know")
    parser.add_argument("--within-h", type=float, default=4.0, help="hours from now until it is late (4)")


def run(args: argparse.Namespace) -> int:
    at = now()
    try:
        open_house(Settings.from_environment(), at)
        with connected():
            person = Person.get_or_none((Person.sign_in == args.by) & Person.disabled_at.is_null())
            told = Refusal(specimen=args.specimen, reason=args.reason, said_by=args.said_by, note=args.note)
            window = Window(due_from=at, due_to=at + timedelta(hours=args.within_h))
            numbers = refuse(told, window, by=person.id if person else None, at=at)
    except NotRefused as refused:
        print(refused, file=sys.stderr)
        return REFUSED
    except HouseMissing as unusable:
        print(unusable, file=sys.stderr)
        return UNUSABLE
    print(f"Kept. To be collected again: {', '.join(numbers)}.")
    return DONE
