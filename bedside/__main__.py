"""The command line: each word after `bedside` is one module of `bedside.commands`."""

from __future__ import annotations

import argparse
import importlib
import pkgutil
import sys
from collections.abc import Sequence

from bedside import commands
from bedside.records.database import DatabaseTrouble, DatabaseUnfit


def build_parser() -> argparse.ArgumentParser:
    """Every command adds its own arguments; its module docstring's first line is its help."""
    parser = argparse.ArgumentParser(prog="bedside", description=__doc__)
    words = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name in sorted(found.name for found in pkgutil.iter_modules(commands.__path__)):
        module = importlib.import_module(f"bedside.commands.{name}")
        summary = (module.__doc__ or "").strip().splitlines()[0]
        one = words.add_parser(name, help=summary, description=module.__doc__)
        module.arguments(one)
        one.set_defaults(run=module.run)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 is done, 1 is refused, 2 is bad input (named on standard error)."""
    args = build_parser().parse_args(argv)
    try:
        result: int = args.run(args)
    except DatabaseUnfit as unfit:
        print(unfit, file=sys.stderr)
        return 2
    except DatabaseTrouble as trouble:
        print(f"The database cannot be used ({trouble}), so nothing was done. Mend it and try again.", file=sys.stderr)
        return 1
    return result


if __name__ == "__main__":
    sys.exit(main())
