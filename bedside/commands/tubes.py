"""Plan the tubes of one visit: JSON in, the containers in the order of draw as JSON out."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any, NoReturn

from bedside.clinical.rulebook import default_book
from bedside.clinical.tube_request import BadTubeRequest, read_tube_request
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory

BAD_INPUT = 2


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the request as JSON; - is standard input")


def run(args: argparse.Namespace) -> int:
    try:
        request = read_tube_request(_read(args.file))
        plan = plan_tubes(request, built_in_directory(), default_book())
    except BadTubeRequest as error:
        return _refuse(_one_line(error))
    print(json.dumps(plan.as_json(), ensure_ascii=False, indent=2))
    return 0


def _read(name: str) -> Any:
    try:
        data = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
    except OSError as error:
        raise BadTubeRequest("FILE", name, error.strerror or "cannot be read") from error
    try:
        return json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        if isinstance(error, BadTubeRequest):
            raise
        raise BadTubeRequest("FILE", name, f"not JSON in UTF-8 ({error})") from error


def _no_number(text: str) -> NoReturn:
    raise BadTubeRequest("FILE", text, "is no number; write a number or null")


def _one_line(error: BadTubeRequest) -> str:
    """The refusal on one line, however long or odd the value is."""
    shown = json.dumps(error.value, ensure_ascii=True, default=str)
    if len(shown) > 80:
        shown = shown[:77] + "..."
    return f"{error.field}: {shown}: {' '.join(error.why.split())}"


def _refuse(line: str) -> int:
    print(line, file=sys.stderr)
    return BAD_INPUT
