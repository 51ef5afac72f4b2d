"""The form for a change of the rulebook, as data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bedside.clinical.rulebook import Rulebook
from bedside.web.desk import Desk
from bedside.web.limit_lines import LimitLine, limit_line


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeLine:
    """One limit on the form, with what was typed so far."""

    limit: LimitLine
    typed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePage:
    """The form for a change: every limit a site may move, and the reason."""

    desk: Desk
    form: Any
    limits: tuple[ChangeLine, ...]
    refused: tuple[str, ...]

    @classmethod
    def of(
        cls, desk: Desk, form: Any, book: Rulebook, typed: Mapping[str, str], refused: Sequence[str] = ()
    ) -> ChangePage:
        lines = (limit_line(name, limit) for name, limit in book.limits.items() if limit.changeable)
        return cls(
            desk=desk,
            form=form,
            limits=tuple(ChangeLine(limit=line, typed=typed.get(line.key, line.value)) for line in lines),
            refused=tuple(refused),
        )
