"""JSON in which no key stands twice in one object: with two values under one name, each reader may take another."""

from __future__ import annotations

from typing import Any


class KeyTwice(ValueError):
    """A key stands twice in one object."""


def refuse_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of a JSON text, for `object_pairs_hook`. Raises KeyTwice."""
    told = dict(pairs)
    if len(told) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise KeyTwice(f"the key {twice[:40]!r} stands twice in one object")
    return told


def mark_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any] | list[Any]:
    """The same, where the rest of the text is to be read all the same: such an object becomes a list of its pairs."""
    told = dict(pairs)
    return told if len(told) == len(pairs) else [list(pair) for pair in pairs]
