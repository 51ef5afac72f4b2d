"""Numbers in sentences: small ones as words, and never "1 draws"."""

from __future__ import annotations

WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def many(number: int, one: str, more: str) -> str:
    """`one draw`, `eleven` as 11: up to ten in words."""
    said = WORDS[number] if number < len(WORDS) else f"{number:,}"
    return f"{said} {one if number == 1 else more}"


def sentence(text: str) -> str:
    """A clause as a sentence: a capital in front, a full stop behind."""
    return f"{text[0].upper()}{text[1:]}."
