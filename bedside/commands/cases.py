"""Print the rule cases as a document to read, check and sign (Markdown).

The cases lie beside the app in a checkout. An installed copy may come without them; then this says so and ends with
exit status 1.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from bedside.clinical.rulebook import default_book
from bedside.reports.rule_cases import document
from bedside.settings import PACKAGE

CHECKOUT = PACKAGE.parent / "tests" / "cases"
MISSING = (
    "bedside cases: {folder} is not there. The rule cases come with the app's sources and not with an installed copy, "
    "so there is nothing to sign here. Run this in a checkout of the sources, or name their folder with --folder."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--folder", type=Path, default=CHECKOUT, help="where the cases lie (default: in the checkout)")


def run(args: argparse.Namespace) -> int:
    shared = args.folder / "shared" / "morning.json"
    if not shared.is_file():
        print(MISSING.format(folder=args.folder), file=sys.stderr)
        return 1
    paths = [path for room in (".", "tubes", "sheet") for path in sorted((args.folder / room).glob("*.json"))]
    topics = {path.stem: _read(path) for path in paths}
    print(document(topics, _read(shared), default_book()))
    return 0


def _read(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))
