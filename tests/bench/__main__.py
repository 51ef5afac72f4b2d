"""Print one line a figure. The exit status is 0 whatever the figures are: a slow machine is not a failure."""

from __future__ import annotations

import importlib
import pkgutil
import sys
import traceback
from collections.abc import Iterator

from tests import bench


def subjects() -> list[str]:
    """Every module beside this one is a subject."""
    return sorted(found.name for found in pkgutil.iter_modules(bench.__path__) if not found.name.startswith("_"))


def lines(subject: str) -> Iterator[str]:
    """The subject's figures as lines; a measurement that breaks is a line too, and its story goes to stderr."""
    try:
        for figure in importlib.import_module(f"tests.bench.{subject}").figures():
            yield str(figure)
    except Exception as error:
        traceback.print_exc()
        yield f"{subject}: not measured ({type(error).__name__}: {error})"


def main(wanted: list[str]) -> int:
    known = subjects()
    for subject in wanted or known:
        if subject not in known:
            print(f"{subject}: not measured (no such subject; there are {', '.join(known)})")
            continue
        for line in lines(subject):
            print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
