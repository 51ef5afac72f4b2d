"""Judge one visit: read its case from a file, print what is true and what is wrong.

The file holds the patient, the tubes, the events and the time (`-` reads standard input). Bad input: exit status 2 and
one line on standard error.
"""

from __future__ import annotations

import argparse
import json
import sys

from bedside.clinical.bad_input import BadInput
from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from bedside.exchange.json_file import read_json


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the case as JSON, or - for standard input")


def run(args: argparse.Namespace) -> int:
    try:
        verdict = judge(read_case(read_json(args.file)), default_book())
    except BadInput as problem:
        print(f"bedside judge: {problem}", file=sys.stderr)
        return 2
    print(json.dumps(verdict.as_json(), ensure_ascii=False, indent=1))
    return 0
