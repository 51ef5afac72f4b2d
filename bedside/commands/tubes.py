"""Plan the tubes of one visit: JSON in, the containers in the order of draw as JSON out."""

from __future__ import annotations

import argparse
import json
import sys

from bedside.clinical.bad_input import BadInput
from bedside.clinical.rulebook import default_book
from bedside.clinical.tube_request import read_tube_request
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory
from bedside.exchange.json_file import read_json

BAD_INPUT = 2


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the request as JSON; - is standard input")


def run(args: argparse.Namespace) -> int:
    try:
        request = read_tube_request(read_json(args.file))
        plan = plan_tubes(request, built_in_directory(), default_book())
    except BadInput as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    print(json.dumps(plan.as_json(), ensure_ascii=False, indent=2))
    return 0
