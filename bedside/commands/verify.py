"""Check the house: audit record, database, events, and that every page shows what the events say.

Prints what was checked; exit status 1 with the first thing that is wrong.
"""

from __future__ import annotations

import argparse
import sys

from bedside.records.database import DatabaseTrouble, connected
from bedside.records.house import HouseMissing, find_house
from bedside.settings import Settings
from bedside.sync.verifying import checks


def arguments(parser: argparse.ArgumentParser) -> None:
    """Nothing to choose: everything is checked."""


def run(args: argparse.Namespace) -> int:
    settings = Settings.from_environment()
    try:
        find_house(settings)
        with connected():
            return _report()
    except HouseMissing as missing:
        print(missing, file=sys.stderr)
        return 2
    except DatabaseTrouble as error:
        print(f"The database cannot be read: {error}. Restore a backup.", file=sys.stderr)
        return 1


def _report() -> int:
    for check in checks():
        if check.fault:
            print(f"{check.name}: WRONG")
            print(f"{check.fault[0].upper()}{check.fault[1:]}.", file=sys.stderr)
            return 1
        print(f"{check.name}: in order")
    return 0
