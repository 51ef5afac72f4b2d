"""Copy the house's database into FILE while it is in use, and verify the copy.

FILE is a SQLite file, also of a house on a PostgreSQL server: `bedside restore` puts it back on either.
The keys in the home folder are not in it: keep a copy of them elsewhere, or nobody can sign in after a
restore.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bedside.records.backups import BackupRefused, back_up
from bedside.records.database import connected
from bedside.records.house import HouseMissing, open_house
from bedside.records.moments import now
from bedside.settings import Settings


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=Path, help="where the copy goes; must not exist yet")


def run(args: argparse.Namespace) -> int:
    settings = Settings.from_environment()
    try:
        open_house(settings, now())
        with connected():
            held = back_up(args.file)
    except (BackupRefused, HouseMissing) as refused:
        print(refused, file=sys.stderr)
        return 2
    except OSError as error:
        print(f"{args.file} cannot be written: {error.strerror}. Choose another place.", file=sys.stderr)
        return 2
    print(f"Copied to {args.file} and verified: {held} audit entries.")
    print(f"Keep a copy of {settings.home / 'keys'} elsewhere: without it nobody can sign in after a restore.")
    return 0
