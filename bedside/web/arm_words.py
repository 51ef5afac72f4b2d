"""A closed arm in words."""

from __future__ import annotations

from collections.abc import Mapping

WHY_CLOSED = {
    "fistula": "fistula or graft",
    "lymph_nodes": "lymph nodes removed",
    "iv": "infusion",
    "other": "another reason",
}


def why_closed(rule: Mapping[str, str]) -> str:
    return WHY_CLOSED.get(rule.get("why", ""), "reason not given")
