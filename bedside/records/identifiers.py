"""Random ids: a letter for the sort of thing, then 122 random bits. They say nothing about a patient."""

from __future__ import annotations

import uuid


def new_id(letter: str) -> str:
    """A new id, for example `v-0c6c2c5e…` for a visit; the letters are listed in `tables.py`."""
    return f"{letter}-{uuid.uuid4()}"
