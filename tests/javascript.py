"""The tablet's scripts as a list of tokens: enough of the language to read our own modules, and no more."""

from __future__ import annotations

import re
from dataclasses import dataclass

PUNCTUATION = (
    "...", "===", "!==", "**=", "??=", "&&=", "||=", "=>", "==", "!=", "<=", ">=", "&&", "||", "??", "?.", "++", "--",
    "+=", "-=", "*=", "/=", "%=", "**",
)  # fmt: skip

_TOKEN = re.compile(
    r"""(?P<space>\s+)
      | (?P<comment>//[^\n]*|/\*.*?\*/)
      | (?P<string>'(?:\\.|[^'\\\n])*'|"(?:\\.|[^"\\\n])*")
      | (?P<template>`(?:\\.|[^`\\])*`)
      | (?P<number>(?:\d[\d_]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)
      | (?P<word>[A-Za-z_$#][\w$]*)
      | (?P<mark>"""
    + "|".join(re.escape(mark) for mark in PUNCTUATION)
    + "|.)",
    re.VERBOSE | re.DOTALL,
)
_REGEX = re.compile(r"/(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\n\[])+/[a-z]*")


@dataclass(frozen=True, slots=True)
class Token:
    """kind: string, template, number, word, regex or mark. start, end: where its text stands in the source."""

    kind: str
    text: str
    start: int
    end: int


def tokens(source: str) -> list[Token]:
    """Everything but spaces and comments."""
    found: list[Token] = []
    place = 0
    while place < len(source):
        match = _TOKEN.match(source, place)
        assert match is not None
        kind = match.lastgroup or "mark"
        if kind == "mark" and match.group() == "/" and _begins_a_regex(found):
            kind, match = "regex", _REGEX.match(source, place) or match
        if kind not in ("space", "comment"):
            found.append(Token(kind, match.group(), match.start(), match.end()))
        place = match.end()
    return found


def _begins_a_regex(before: list[Token]) -> bool:
    if not before:
        return True
    last = before[-1]
    return last.text in ("return", "typeof", "yield") or (
        last.kind not in ("word", "number", "string", "template", "regex") and last.text not in (")", "]", "}")
    )
