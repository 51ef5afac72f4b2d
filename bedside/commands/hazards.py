"""Print the hazard log as a document to read and sign (Markdown)."""

from __future__ import annotations

import argparse

from bedside.exchange.hazard_file import hazard_log
from bedside.reports.hazards import document


def arguments(parser: argparse.ArgumentParser) -> None:
    """None."""


def run(args: argparse.Namespace) -> int:
    print(document(hazard_log()))
    return 0
