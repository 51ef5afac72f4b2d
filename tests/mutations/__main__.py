"""Make every mistake there is, and say which of them no case noticed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable

from tests.mutations import against_javascript, against_python
from tests.mutations.mistake import Mistake, counted


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__)
    parser.add_argument("language", nargs="?", choices=("python", "javascript"), help="without it, both")
    parser.add_argument("--only", action="append", metavar="FILE", help="mistakes in this file alone")
    args = parser.parse_args()
    for language, against in (("python", against_python), ("javascript", against_javascript)):
        if args.language in (None, language):
            found = [mistake for mistake in against.all_mistakes() if not args.only or mistake.file in args.only]
            told(language, against.judged(found))
    return 0


def told(language: str, judged: Iterable[tuple[Mistake, str | None]]) -> None:
    """Print the survivors as they come, and the count at the end."""
    noticed = total = 0
    for mistake, case in counted(judged):
        total += 1
        noticed += case is not None
        if case is None:
            print(f"  not noticed: {mistake}", flush=True)
    print(f"{language}: {noticed} of {total} mistakes noticed ({noticed / max(total, 1):.2%})", flush=True)


sys.exit(main())
