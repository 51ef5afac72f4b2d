"""The cases a tablet puts to its own judge: chosen from the shared rule cases, kept beside this module."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

SHARED = ("patient", "tubes")
"""What a case names by its place in the list of shared things; `events` is a list of such places."""


@cache
def self_test_cases() -> Mapping[str, Any]:
    """`{"shared": […], "cases": [{"name", "case"}]}`, as it travels; read once and never changed."""
    text = resources.files("bedside.exchange").joinpath("self_test_cases.json").read_text(encoding="utf-8")
    told: dict[str, Any] = json.loads(text)
    return told


def written_out(case: Mapping[str, Any], shared: list[Any]) -> dict[str, Any]:
    """A case with what it shares put in again: the input of a judge."""
    whole = {name: shared[case[name]] for name in SHARED if name in case}
    return {**case, **whole, "events": [shared[place] for place in case.get("events", ())]}
