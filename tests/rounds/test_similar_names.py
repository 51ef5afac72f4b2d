"""Names that are easily taken for one another."""

from __future__ import annotations

import pytest

from bedside.rounds.similar_names import Named, alike_pairs, are_alike


def named(name: str) -> Named:
    family, _, given = name.partition(", ")
    return Named(key=name, family=family, given=given)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("Ek, Bo", "Ek, Ada"),
        ("Hansen, Karin", "Hanssen, Karen"),
        ("Müller, Jan", "Muller, Eva"),
        ("O'Neil, Ann", "Oneill, Sue"),
        ("Okafor, Ada", "Ada, Okafor"),
        ("Stephens, Ann", "Stevens, Eve"),
        ("Li, Wei", "Lu, Na"),
        ("Ле, Анна", "Ли, Ева"),
    ],
)
def test_these_are_alike_either_way_round(a: str, b: str) -> None:
    assert are_alike(named(a), named(b))
    assert are_alike(named(b), named(a))


@pytest.mark.parametrize(
    ("a", "b"), [("Ojala, Kaarina", "Lindqvist, Kaarina"), ("Ek, Bo", "Oyelaran, Bo"), ("李, 伟", "王, 芳芳")]
)
def test_these_are_not(a: str, b: str) -> None:
    assert not are_alike(named(a), named(b))


def test_each_is_told_of_the_other_and_nobody_of_themselves() -> None:
    pairs = alike_pairs([named("Ek, Bo"), named("Ek, Ada"), named("Ojala, Kaarina")])

    assert pairs == {"Ek, Bo": ("Ek, Ada",), "Ek, Ada": ("Ek, Bo",), "Ojala, Kaarina": ()}
