"""Put a backup in the place of the house's database. Stop the server first.

The house gets a new id: tablets notice, and offer their recent events again. The database that was there
is kept aside: a file beside it, or on a PostgreSQL server a schema of its own. A backup of a house on SQLite can be put
on a PostgreSQL server, and the other way round: that is how a house moves.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bedside.records.backups import BackupRefused, restore
from bedside.records.moments import now
from bedside.settings import Settings


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=Path, help="a file made by `bedside backup`")


def run(args: argparse.Namespace) -> int:
    settings = Settings.from_environment()
    try:
        house, aside = restore(args.file, settings, now())
    except BackupRefused as refused:
        print(refused, file=sys.stderr)
        return 2
    print(f"Restored {args.file} as house {house}.")
    if aside is not None:
        print(f"The database that was there is kept as {aside}.")
    return 0
