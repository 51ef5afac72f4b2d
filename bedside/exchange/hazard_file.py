"""The hazard log that comes with the app, kept beside this module."""

from __future__ import annotations

from functools import cache
from importlib import resources

from bedside.reports.hazards import Hazard, read_hazards


@cache
def hazard_log() -> tuple[Hazard, ...]:
    """Every hazard, the worst first; read once and never changed."""
    return read_hazards(resources.files("bedside.exchange").joinpath("hazards.toml").read_text(encoding="utf-8"))
