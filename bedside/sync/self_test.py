"""What a packet carries so that a tablet can try its judge: cases, and what this house's judge says of them."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from bedside.clinical.book_text import read_book
from bedside.clinical.case import read_case
from bedside.clinical.judge import Verdict, judge
from bedside.clinical.rulebook import Rulebook
from bedside.exchange.self_test_file import self_test_cases, written_out

FIGURES = ("stage", "tourniquet_longest_s", "pressure_s", "volume_ml", "may_end")


def self_test_of(book: Rulebook) -> dict[str, Any]:
    """`{"shared", "cases": [{"name", "case", "verdict"}]}`, judged by this book, worked out once for each book."""
    return _judged(book.text)


@lru_cache(maxsize=4)
def _judged(text: str) -> dict[str, Any]:
    # By the very bytes that travel: the tablet has nothing else to judge by.
    book, told = read_book(text), self_test_cases()
    return {
        "shared": told["shared"],
        "cases": [
            {**one, "verdict": as_compared(judge(read_case(written_out(one["case"], told["shared"])), book))}
            for one in told["cases"]
        ],
    }


def as_compared(verdict: Verdict) -> dict[str, Any]:
    """What is compared: the figures, and each finding's code, severity and event, the most serious first. The words
    stand in the book, which is hashed.
    """
    told = verdict.as_json()
    findings = [[one.code, one.severity.value, one.event] for one in verdict.findings]
    return {**{name: told[name] for name in FIGURES}, "findings": findings}
