"""A container's name for people."""

from __future__ import annotations

from bedside.clinical.containers import CONTAINERS


def container_name(kind: str) -> str:
    """A container's name for people, or its kind where the rulebook does not know it."""
    container = CONTAINERS.get(kind)
    return container.name if container else kind
