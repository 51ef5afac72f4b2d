"""However the events travel, the verdict is the same."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from tests.random_visits import visits


@settings(max_examples=150)
@given(visits(), st.randoms(use_true_random=False))
def test_order_of_arrival_does_not_matter(visit, chance):
    mixed = list(visit["events"])
    chance.shuffle(mixed)

    assert judge(read_case({**visit, "events": mixed}), default_book()) == judge(read_case(visit), default_book())
