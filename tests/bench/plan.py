"""How long a morning's tube plans take, and how much blood sharing saves."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime

from bedside.clinical.directory import Directory
from bedside.clinical.rulebook import Rulebook, default_book
from bedside.clinical.sharing import Need, share
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory
from tests.bench import Figure, _month

PATIENTS = 1000
EACH = 100
NOW = datetime(2026, 11, 25, 4, 0, tzinfo=UTC)


def figures() -> Iterator[Figure]:
    directory, book = built_in_directory(), default_book()
    requests = list(_morning(directory))
    took, blood = [], 0.0
    for request in requests:
        start = time.process_time()
        plan = plan_tubes(request, directory, book)
        took.append(time.process_time() - start)
        blood += plan.total_ml
    tests = sum(len(request.tests) for request in requests)
    what = f"{PATIENTS} invented patients, {tests} tests, 3-15 each, seed 4"
    yield Figure("plan_all", sum(took), "s", f"plan_tubes, processor time, {what}, one run")
    yield Figure("plan_median", sorted(took)[PATIENTS // 2] * 1000, "ms", f"one patient, processor time, {what}")
    yield Figure("plan_slowest", max(took) * 1000, "ms", f"one patient, processor time, {what}")
    apart = sum(plan_tubes(one, directory, book).total_ml for request in requests for one in _singly(request))
    yield Figure("plan_blood_saved", 100 * (1 - blood / apart), "%", f"against one tube a test, {what}")
    yield from _growth(directory, book)
    yield _hardest()
    yield from _month.figures()


def _growth(directory: Directory, book: Rulebook) -> Iterator[Figure]:
    """One patient's time by the number of tests, and the steepest step from one number to the next."""
    by_count: dict[int, list[float]] = {count: [] for count in range(3, 16)}
    for request in _by_count(directory):
        start = time.process_time()
        plan_tubes(request, directory, book)
        by_count[len(request.tests)].append(time.process_time() - start)
    mean = {count: sum(took) / len(took) * 1000 for count, took in by_count.items()}
    how = f"processor time, mean of {EACH} patients, seed 6"
    for count, ms in mean.items():
        yield Figure(f"plan_{count}_tests", ms, "ms", f"one patient with {count} tests, {how}")
    steepest = max(mean[count + 1] / mean[count] for count in range(3, 15))
    yield Figure("plan_15_to_3_tests", mean[15] / mean[3], "times", f"15 tests against 3, {how}")
    yield Figure("plan_steepest_step", steepest, "times", f"one test more, the worst of 3 to 15, {how}")


def _by_count(directory: Directory) -> Iterator[TubeRequest]:
    dice = random.Random(6)
    codes = [test.code for test in directory.tests]
    for count in range(3, 16):
        for _ in range(EACH):
            patient = Measures(birth_date=date(1960, 6, 15), weight_kg=70.0)
            yield TubeRequest(patient=patient, tests=tuple(dice.sample(codes, count)), now=NOW)


def _morning(directory: Directory) -> Iterator[TubeRequest]:
    dice = random.Random(4)
    codes = [test.code for test in directory.tests]
    for _ in range(PATIENTS):
        born = date(dice.randint(1930, 2024), 6, 15)
        yield TubeRequest(
            patient=Measures(birth_date=born, weight_kg=dice.uniform(8, 110)),
            tests=tuple(dice.sample(codes, dice.randint(3, 15))),
            now=NOW,
            needle=dice.choice(("straight", "winged", "syringe")),
        )


def _singly(request: TubeRequest) -> Iterator[TubeRequest]:
    for code in request.tests:
        yield TubeRequest(patient=request.patient, tests=(code,), now=NOW)


def _hardest() -> Figure:
    """Forty tests, each with three to six random kinds of twelve: far from any ward."""
    dice = random.Random(4)
    kinds = [f"kind-{number}" for number in range(12)]
    needs = [
        Need(
            tuple(dice.sample(kinds, dice.randint(3, 6))),
            dice.choice((1000, 2000, 2500, 3000)),
            dice.random() < 0.2,
        )
        for _ in range(40)
    ]
    sizes = dict.fromkeys(kinds, (2000, 3000, 4000))
    start = time.process_time()
    share(needs, sizes)
    how = "share, 40 needs, each with 3-6 of 12 kinds, a fifth filled full, seed 4, processor time, one run"
    return Figure("plan_hardest", time.process_time() - start, "s", how)
