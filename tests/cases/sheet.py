"""Answers a case of `sheet/`: what a number of the book is, or what a formula gives. Neither knows a rule.

Where the book and the formulas come from is the asker's affair, so that a book with a mistake in it can be asked, too.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

from tests.cases.around_the_plan import ASKS
from tests.cases.compare import CLOSE

Json = dict[str, Any]
Find = Callable[[str], Any]

FORMULAS = {
    "nadler_litres": "volume",
    "citrate_to_leave_ml": "tubes",
    "citrate_in_total_ml": "citrate",
    "anaemia_risk_ratio": "volume",
}
"""Each formula and the module of `bedside.clinical` that has it."""


def of_the_app(module: str) -> Any:
    """A module of the rules as it is."""
    return importlib.import_module(f"bedside.clinical.{module}")


def differences(case: Json, expect: Json, book: Any, find: Find = of_the_app) -> list[str]:
    """Return one sentence where the book or the formula does not say what the case expects, else nothing."""
    try:
        got = answer(case, book, find)
        if "ask" in case:
            got = {name: got[name] for name in expect["value"]}
    except ValueError as refused:
        return [] if expect.get("refused") else [f"expected {expect}, but it was refused: {refused}"]
    if expect.get("refused"):
        return [f"expected to be refused, got {got!r}"]
    return [] if _same(expect["value"], got) else [f"expected {expect['value']!r}, got {got!r}"]


def answer(case: Json, book: Any, find: Find) -> Any:
    """The value that a case asks for. Raises ValueError where a formula refuses what it is given."""
    if "limit" in case:
        return book.value(case["limit"])
    if "sizes" in case:
        return list(book.volumes.sizes_of(book.containers[case["sizes"]]))
    if "ask" in case:
        return ASKS[case["ask"]](case["given"], book, find)
    return getattr(find(FORMULAS[case["formula"]]), case["formula"])(*case["given"])


def _same(expected: Any, got: Any) -> bool:
    if isinstance(expected, list):
        return len(expected) == len(got) and all(map(_same, expected, got))
    if isinstance(expected, dict):
        return all(_same(value, got[name]) for name, value in expected.items())
    if expected is None or got is None:
        return expected is got
    if isinstance(expected, str | bool) or isinstance(got, str | bool):
        return type(expected) is type(got) and bool(expected == got)
    return bool(abs(expected - got) <= CLOSE)
