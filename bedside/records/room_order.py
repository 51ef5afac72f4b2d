"""The order in which rooms are walked: by their number, then by their letters."""

from __future__ import annotations

import re


def natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """A sort key by which room 9 comes before room 14 and 14B after 14A."""
    parts = re.findall(r"\d+|\D+", text.casefold())
    return tuple((part.isdigit(), int(part) if part.isdecimal() else 0, part) for part in parts)
