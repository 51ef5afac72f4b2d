"""An event that arrives again changes nothing."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from tests.random_visits import visits


@settings(max_examples=150)
@given(visits(), st.randoms(use_true_random=False))
def test_twice_is_once(visit, chance):
    again = [event for event in visit["events"] if chance.random() < 0.3]

    repeated = judge(read_case({**visit, "events": [*visit["events"], *again]}), default_book())

    assert repeated == judge(read_case(visit), default_book())
