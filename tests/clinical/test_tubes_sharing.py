"""Sharing is exact: compared with every possible plan on small cases, and with an integer solver on real ones."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from bedside.clinical.directory import Test
from bedside.clinical.rulebook_volumes import NOMINAL_ML
from bedside.clinical.sharing import Fills, Need, NoContainer, Shared, share, smallest_holding
from bedside.exchange.directory_file import built_in_directory

KINDS = ("red", "green", "lavender")
# Two sizes, and a wide gap between them, so that filling a tube can cost more than a tube beside it.
SIZES = {"red": (2000, 9000), "green": (3000, 9000), "lavender": (2000, 4000, 9000)}

# The middle lavender tube is content with less blood than the small one.
FILLS = {"red": {9000: 4500}, "lavender": {2000: 2000, 4000: 1500}}

needs = st.lists(
    st.builds(
        Need,
        kinds=st.permutations(KINDS).flatmap(lambda order: st.integers(1, 3).map(lambda count: tuple(order[:count]))),
        microlitres=st.sampled_from([1000, 2000, 2500, 3000, 5000]),
        full=st.booleans(),
        party=st.sampled_from([("",), ("ice",)]),
    ),
    min_size=1,
    max_size=4,
)


def cost(kind: str, inside: list[Need], fills: Fills | None = None) -> int | None:
    """What one container of this kind draws for these needs, written anew for the comparison."""
    if len({need.party for need in inside}) > 1:
        return None
    largest = max(need.microlitres for need in inside)
    holding = [size for size in SIZES[kind] if size >= largest]
    if not holding:
        return None
    if any(need.full for need in inside):
        return min(holding)
    least = (fills or {}).get(kind, {})
    return min(max(largest, least.get(size, 0)) for size in holding)


def every_plan(asked: list[Need], fills: Fills | None = None):
    """Every way to put each need into one of as many containers of each of its kinds as there are needs."""
    choices = [[(kind, copy) for kind in need.kinds for copy in range(len(asked))] for need in asked]
    for plan in itertools.product(*choices):
        tubes: dict[tuple[str, int], list[Need]] = {}
        for need, tube in zip(asked, plan, strict=True):
            tubes.setdefault(tube, []).append(need)
        costs = [cost(kind, inside, fills) for (kind, _), inside in tubes.items()]
        if None not in costs:
            ranks = [need.kinds.index(kind) for need, (kind, _) in zip(asked, plan, strict=True)]
            yield sum(costs), len(tubes), ranks


def measured(asked: list[Need], made: list[Shared]):
    ranks = {place: asked[place].kinds.index(one.kind) for one in made for place in one.needs}
    return sum(one.microlitres for one in made), len(made), [ranks[place] for place in range(len(asked))]


@given(needs, st.sampled_from([{}, FILLS]))
def test_no_other_plan_draws_less_or_uses_fewer_tubes_or_fits_the_directory_better(asked, fills):
    made = share(asked, SIZES, fills)

    assert measured(asked, made) == min(every_plan(asked, fills))


@given(needs)
def test_every_need_stands_in_exactly_one_tube_it_allows_and_each_tube_draws_what_it_must(asked):
    made = share(asked, SIZES)

    assert sorted(place for one in made for place in one.needs) == list(range(len(asked)))
    for one in made:
        inside = [asked[place] for place in one.needs]
        assert all(one.kind in need.kinds for need in inside)
        assert cost(one.kind, inside) == one.microlitres


def test_filling_a_tube_for_a_guest_can_cost_more_than_a_second_tube():
    # 2 mL to be filled, and 3 mL that need not be: one filled 9 mL tube, or 2 mL and 3 mL.
    asked = [Need(("red",), 2000, full=True), Need(("red",), 3000)]

    assert [one.microlitres for one in share(asked, SIZES)] == [2000, 3000]


def test_of_two_plans_with_as_much_blood_the_one_with_fewer_tubes_wins():
    # Two filled tubes of 2 mL, each preferred, or one of 4 mL that serves both.
    sizes = {"red": (2000,), "green": (2000,), "lavender": (4000,)}
    asked = [Need(("red", "lavender"), 2000, full=True), Need(("green", "lavender"), 2000, full=True)]

    assert share(asked, sizes) == [Shared("lavender", (0, 1), 4000)]


def test_of_two_equal_plans_the_first_need_of_the_directory_gets_the_tube_it_prefers():
    # The larger need is placed first and would rather have green; the directory's first need prefers red.
    asked = [Need(("red", "green"), 1000), Need(("green", "red"), 2000)]

    assert share(asked, SIZES) == [Shared("red", (0, 1), 2000)]


def test_the_directorys_order_decides_before_the_number_of_different_kinds():
    # contract: the least blood, then the fewest containers, then directory order. One kind would do for both.
    asked = [Need(("red", "lavender"), 2000), Need(("lavender",), 2000, party=("ice",))]

    assert [one.kind for one in share(asked, SIZES)] == ["red", "lavender"]


def test_a_need_too_large_for_every_tube_is_named():
    with pytest.raises(NoContainer) as refused:
        share([Need(("red",), 1000), Need(("red", "green"), 9001)], SIZES)
    assert refused.value.need == 1


def test_a_tube_too_small_is_passed_over_for_one_that_holds():
    sizes = {"red": (2000,), "green": (4000,)}

    assert [one.kind for one in share([Need(("red", "green"), 3000)], sizes)] == ["green"]


@pytest.mark.parametrize(("wanted", "size"), [(1999, 2000), (2000, 2000), (2001, 4000), (9001, None)])
def test_the_smallest_size_that_holds(wanted, size):
    assert smallest_holding(SIZES["lavender"], wanted) == size


# --- an independent solver -----------------------------------------------------------------------------


def solved(tests: list[Test]) -> tuple[float, int]:
    """Blood in mL and number of tubes by integer programming: an independent reference (scipy's `milp`).

    For each party, kind and one of two copies of a tube: its volume, whether it is open, which size it has;
    for each test and tube: whether it is in it.
    """
    parties = sorted({(test.temperature, test.apart) for test in tests})
    kinds = sorted({kind for test in tests for kind in test.containers})
    tubes = [(party, kind, copy) for party in parties for kind in kinds for copy in (0, 1)]
    names = [("volume", tube) for tube in tubes] + [("open", tube) for tube in tubes]
    names += [("size", tube, size) for tube in tubes for size in NOMINAL_ML[tube[1]]]
    names += [
        ("in", place, tube)
        for place, test in enumerate(tests)
        for tube in tubes
        if tube[0] == (test.temperature, test.apart) and tube[1] in test.containers
    ]
    column = {name: place for place, name in enumerate(names)}
    rows, low = [], []

    def add(bound: float, terms: list[tuple[tuple, float]]) -> None:
        row = np.zeros(len(names))
        for name, factor in terms:
            row[column[name]] += factor
        rows.append(row)
        low.append(bound)

    for place, test in enumerate(tests):
        mine = [name for name in names if name[0] == "in" and name[1] == place]
        add(1, [(name, 1) for name in mine])
        for name in mine:
            tube = name[2]
            sizes = [("size", tube, size) for size in NOMINAL_ML[tube[1]]]
            add(0, [(("open", tube), 1), (name, -1)])
            add(0, [(("volume", tube), 1), (name, -test.min_ml)])
            # Whatever is inside must fit the size the tube has, and a test that fills it draws that size.
            add(0, [*[(size, size[2]) for size in sizes], (name, -test.min_ml)])
            if test.full_draw:
                biggest = max(NOMINAL_ML[tube[1]])
                add(-biggest, [(("volume", tube), 1), *[(s, -s[2]) for s in sizes], (name, -biggest)])
    for tube in tubes:
        sizes = [("size", tube, size) for size in NOMINAL_ML[tube[1]]]
        add(0, [(("open", tube), 1), *[(size, -1) for size in sizes]])
    cost_of = np.array([{"volume": 1.0, "open": 0.001}.get(name[0], 0.0) for name in names])
    found = milp(
        cost_of,
        constraints=LinearConstraint(np.array(rows), np.array(low), np.inf),
        integrality=np.array([name[0] != "volume" for name in names], dtype=int),
        bounds=Bounds(0, np.array([10.0 if name[0] == "volume" else 1.0 for name in names])),
    )
    assert found.success, found.message
    by_kind = {kind: sum(found.x[column[n]] for n in names if n[0] == kind) for kind in ("volume", "open")}
    return round(by_kind["volume"], 6), round(by_kind["open"])


@pytest.mark.parametrize("seed", range(20))
def test_an_integer_solver_finds_no_better_plan_for_real_tests(seed):
    dice = random.Random(seed)
    directory = [test for test in built_in_directory().tests if not test.is_culture]
    # Tests with a choice of tube are the hard ones; half of each plan is taken from them.
    choosy = [test for test in directory if len(test.containers) > 1]
    picked = {*dice.sample(directory, 4), *dice.sample(choosy, 4)}
    tests = [test for test in directory if test in picked]
    asked = [
        Need(test.containers, round(test.min_ml * 1000), test.full_draw, (test.temperature, test.apart))
        for test in tests
    ]
    sizes = {kind: tuple(round(size * 1000) for size in ml) for kind, ml in NOMINAL_ML.items()}

    made = share(asked, sizes)

    assert (sum(one.microlitres for one in made) / 1000, len(made)) == solved(tests)
