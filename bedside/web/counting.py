"""Numbers in sentences: small ones as words, and never "1 draws"."""

from __future__ import annotations

from collections.abc import Sequence

WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def many(number: int, one: str, more: str) -> str:
    """`one draw`, `eleven` as 11: up to ten in words."""
    said = WORDS[number] if number < len(WORDS) else f"{number:,}"
    return f"{said} {one if number == 1 else more}"


def sentence(text: str) -> str:
    """A clause as a sentence: a capital in front, a full stop behind."""
    return f"{text[0].upper()}{text[1:]}."


def listed(words: Sequence[str]) -> str:
    """`a, b and c`."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
