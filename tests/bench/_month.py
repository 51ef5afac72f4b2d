"""A month of invented morning visits: what the plan draws, against one container a test and against a greedy plan.

The greedy plan is the one a person makes going down the list: each test, in the directory's order, into the first
container already open that it may share, else into a new one of the kind it prefers. It stands here alone.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

from bedside.clinical.directory import Directory, Test
from bedside.clinical.order_of_draw import needs_discard
from bedside.clinical.rulebook import Rulebook, default_book
from bedside.clinical.saving import saving
from bedside.clinical.sharing import smallest_holding
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import Plan, plan_tubes
from bedside.exchange.directory_file import built_in_directory
from tests.bench import Figure

VISITS = 5000
MOST_TESTS = 10
NOW = datetime(2026, 11, 25, 4, 0, tzinfo=UTC)


@dataclass
class Open:
    """A container of the greedy plan, still taking tests in."""

    kind: str
    party: tuple[str, str]
    tests: list[Test]

    def drawn_ml(self, book: Rulebook) -> float:
        largest = max(test.min_ml for test in self.tests)
        if not any(test.full_draw for test in self.tests):
            return largest
        sizes = [round(size * 1000) for size in book.volumes.sizes_of(book.containers[self.kind])]
        size = smallest_holding(sizes, round(largest * 1000))
        return largest if size is None else size / 1000


def figures() -> Iterator[Figure]:
    directory, book = built_in_directory(), default_book()
    ours, alone, greedy = [0, 0.0], [0, 0.0], [0, 0.0]
    for request in visits(directory):
        plan = plan_tubes(request, directory, book)
        apart = saving(plan, request, directory, book)
        _add(ours, len(plan.tubes), plan.total_ml)
        _add(alone, apart.one_each_tubes, apart.one_each_ml)
        _add(greedy, *first_fit(request, plan, directory, book))
    what = f"{VISITS} invented morning visits, 1-{MOST_TESTS} tests each drawn evenly from the directory, seed 5"
    yield Figure("month_tubes", ours[0], "containers", what)
    yield Figure("month_blood", ours[1] / 1000, "L", what)
    for name, others, told in (
        ("one_each", alone, "one container a test"),
        ("greedy", greedy, "first fit in the directory's order"),
    ):
        yield Figure(f"month_tubes_saved_against_{name}", others[0] - ours[0], "containers", f"{told}; {what}")
        yield Figure(f"month_blood_saved_against_{name}", others[1] - ours[1], "mL", f"{told}; {what}")
        yield Figure(f"month_blood_share_saved_against_{name}", 100 * (1 - ours[1] / others[1]), "%", f"{told}; {what}")


def _add(sums: list[float], tubes: int, ml: float) -> None:
    sums[0] += tubes
    sums[1] += ml


def visits(directory: Directory) -> Iterator[TubeRequest]:
    """Mostly adults; every tenth a child."""
    dice = random.Random(5)
    codes = [test.code for test in directory.tests]
    for number in range(VISITS):
        born = date(dice.randint(2013, 2025) if number % 10 == 0 else dice.randint(1930, 2006), 6, 15)
        yield TubeRequest(
            patient=Measures(birth_date=born, weight_kg=dice.uniform(8, 40) if number % 10 == 0 else 70.0),
            tests=tuple(dice.sample(codes, dice.randint(1, MOST_TESTS))),
            now=NOW,
            needle="winged" if number % 10 == 0 else "straight",
        )


def first_fit(request: TubeRequest, plan: Plan, directory: Directory, book: Rulebook) -> tuple[int, float]:
    """Containers and mL of the greedy plan; its culture bottles are the plan's own."""
    places = sorted({place for code in request.tests if (place := directory.place(code)) is not None})
    opened: list[Open] = []
    for test in (directory.tests[place] for place in places):
        if not test.is_culture:
            _put(test, opened)
    bottles = [tube for tube in plan.tubes if tube.tests and tube.tests[0].is_culture]
    discard = _discards([*(tube.kind for tube in bottles), *(one.kind for one in opened)], request.needle, book)
    drawn = sum(tube.draw_ml for tube in bottles) + sum(one.drawn_ml(book) for one in opened)
    return len(bottles) + len(opened) + discard, drawn + discard * book.value("discard_ml")


def _put(test: Test, opened: list[Open]) -> None:
    party = (test.temperature, test.apart)
    for one in opened:
        if one.party == party and one.kind in test.containers:
            one.tests.append(test)
            return
    opened.append(Open(test.containers[0], party, [test]))


def _discards(kinds: Iterable[str], needle: str, book: Rulebook) -> int:
    return 1 if needs_discard(kinds, needle, book.containers) else 0
