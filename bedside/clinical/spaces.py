"""What is nothing in a text: spaces of every script, line ends, and what a scanner sends between two fields."""

from __future__ import annotations

import re

# Written out, because two languages that each call this "white space" mean different characters by it.
_SPACES = (
    "\u0009\u000a\u000b\u000c\u000d\u001c\u001d\u001e\u001f\u0020\u0085\u00a0\u1680\u2000\u2001\u2002\u2003\u2004"
    "\u2005\u2006\u2007\u2008\u2009\u200a\u2028\u2029\u202f\u205f\u3000\ufeff"
)
_SOME = re.compile(f"[{_SPACES}]+")


def trimmed(text: str) -> str:
    """The text without spaces at either end."""
    return text.strip(_SPACES)


def is_blank(text: str | None) -> bool:
    """Report whether nothing is written there."""
    return not trimmed(text or "")


def words(text: str) -> list[str]:
    """What stands between the spaces."""
    return [word for word in _SOME.split(text) if word]
