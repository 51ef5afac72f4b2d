"""Mistakes in a set of characters: one of them, or one range of them, is forgotten. The same in both languages."""

from __future__ import annotations

import re
from collections.abc import Iterator

from tests.mutations.mistake import Mistake, made

# Written as escapes on purpose, so that a reader sees them and this finds them.
_LETTER = re.compile(r"\\u[0-9a-f]{4}(?:-\\u[0-9a-f]{4})?")


def forgotten(file: str, source: str) -> Iterator[Mistake]:
    for match in _LETTER.finditer(source):
        yield made(file, source, match.start(), match.end(), "")
