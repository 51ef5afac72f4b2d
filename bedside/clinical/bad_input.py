"""What cannot be read: which field, what stood there, and why that cannot be used."""

from __future__ import annotations


class BadInput(ValueError):
    """A value that cannot be used. Its text is one line that names the field, the value and the reason."""

    def __init__(self, field: str, value: object, why: str) -> None:
        self.field = field
        self.value = value
        self.why = why
        super().__init__(f"{field}: {_shown(value)} {why}")


class UnknownKind(BadInput):
    """An event of a kind this edition does not know."""


class UnknownTube(BadInput):
    """An event about a tube that nothing has announced."""


def _shown(value: object) -> str:
    """The value on one line, not longer than a reader needs to find it again."""
    text = " ".join(repr(value).split())
    return text if len(text) <= 80 else text[:77] + "..."
