"""A JSON file or standard input, read strictly: UTF-8, no number that JSON has not."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, NoReturn

from bedside.clinical.bad_input import BadInput
from bedside.clinical.strict_json import KeyTwice, refuse_repeats


def read_json(name: str) -> Any:
    """What the file holds (`-` is standard input). Raises `BadInput` naming the file when it cannot be read."""
    try:
        data = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
    except OSError as error:
        raise BadInput("FILE", Path(name).name, f"cannot be read: {error.strerror}") from error
    try:
        return json.loads(data.decode("utf-8-sig"), parse_constant=_no_number, object_pairs_hook=refuse_repeats)
    except KeyTwice as error:
        raise BadInput("FILE", name, f"can mean two things: {error}") from error
    except BadInput:
        raise
    except (ValueError, RecursionError) as error:
        raise BadInput("FILE", name, f"is not JSON in UTF-8: {error}") from error


def _no_number(text: str) -> NoReturn:
    raise BadInput("FILE", text, "is not a number that JSON has; write a number or null")
