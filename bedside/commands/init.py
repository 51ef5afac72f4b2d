"""Make a house in the home folder: database, house id, keys.

The home folder is `bedside-data` here, or what BEDSIDE_HOME names. Running it again changes nothing.
"""

from __future__ import annotations

import argparse

from bedside.records.house import make_house
from bedside.records.moments import now
from bedside.settings import Settings


def arguments(parser: argparse.ArgumentParser) -> None:
    """Nothing to choose: the home folder comes from the environment."""


def run(args: argparse.Namespace) -> int:
    settings = Settings.from_environment()
    house = make_house(settings, now())
    print(f"House {house} is ready in {settings.home}.")
    print("Next: bedside people add NAME --role keeper --name 'Full Name'")
    return 0
