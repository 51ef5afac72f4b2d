"""What `survivors.md` says: the mistakes that leave the same program, or one that no case can tell apart."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from tests.mutations.mistake import Mistake, counted

PAGE = Path(__file__).parent / "survivors.md"


@cache
def survivors() -> frozenset[str]:
    """Each as `file: change | line`, the way the page writes them."""
    return frozenset(re.findall(r"^- `(.+)`$", PAGE.read_text(encoding="utf-8"), re.MULTILINE))


def is_known(mistake: Mistake) -> bool:
    return str(mistake) in survivors()


def not_noticed(judged: Iterable[tuple[Mistake, str | None]]) -> list[str]:
    """Those that no case noticed and that the page does not know."""
    return [str(mistake) for mistake, case in counted(judged) if case is None and not is_known(mistake)]
