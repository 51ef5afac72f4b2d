"""The tube plan: the containers one visit needs, in the order of draw, with tests, blood and care."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bedside.clinical.bad_input import BadInput
from bedside.clinical.citrate import citrate_to_leave_ml
from bedside.clinical.container_sizes import ContainerSize
from bedside.clinical.containers import CITRATE, DISCARD, Container
from bedside.clinical.directory import HANDLING_WORDS, Directory, Test
from bedside.clinical.findings import Finding, Severity
from bedside.clinical.order_of_draw import needs_discard, places
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.sharing import Need, NoContainer, least_drawn, share
from bedside.clinical.timing import as_utc, in_lab_by
from bedside.clinical.tube_request import Measures, TubeRequest, UnknownTest
from bedside.clinical.volume import allowance

__all__ = ["Plan", "PlannedTube", "citrate_to_leave_ml", "plan_tubes"]

PAEDIATRIC = "culture-paediatric"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTube:
    """One container of a plan.

    codes: its tests as they were asked for. tests: the same as the directory knows them.
    nominal_ml, draw_ml: its size and the blood to draw into it, in mL.
    """

    position: int
    container: Container
    nominal_ml: float
    draw_ml: float
    codes: tuple[str, ...] = ()
    tests: tuple[Test, ...] = ()
    handling: tuple[str, ...] = ()
    in_lab_by: datetime | None = None

    @property
    def kind(self) -> str:
        return self.container.kind

    def as_json(self) -> dict[str, Any]:
        return {
            "position": self.position,
            "kind": self.kind,
            "additive": self.container.additive,
            "cap": self.container.cap,
            "inversions": self.container.inversions,
            "nominal_ml": self.nominal_ml,
            "draw_ml": self.draw_ml,
            "tests": list(self.codes),
            "handling": list(self.handling),
            "in_lab_by": None if self.in_lab_by is None else as_utc(self.in_lab_by),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What one visit draws. limit_ml: the most it may draw, None without a limit."""

    tubes: tuple[PlannedTube, ...]
    total_ml: float
    limit_ml: float | None
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, Any]:
        return {
            "tubes": [tube.as_json() for tube in self.tubes],
            "total_ml": self.total_ml,
            "limit_ml": self.limit_ml,
            "findings": [finding.as_json() for finding in self.findings],
        }


@dataclass(frozen=True, slots=True)
class _Filling:
    """A container before it has its place in the order: its kind, its tests, its blood in microlitres."""

    kind: str
    tests: tuple[Test, ...]
    microlitres: int


def plan_tubes(request: TubeRequest, directory: Directory, book: Rulebook) -> Plan:
    """Plan one visit: the least blood, then the fewest containers, then the directory's order.

    `UnknownTest` when the directory does not hold a code; `BadInput` when a test fits no container.
    """
    allowed = _limit(request.patient, request.now, book)
    tests = _tests(request.tests, directory)
    stock = _stock_for(tests, request, directory, book)
    fillings = [
        *_bottles([test for test in tests if test.is_culture], allowed, book),
        *_shared([test for test in tests if not test.is_culture], directory, stock),
    ]
    if needs_discard((filling.kind for filling in fillings), request.needle, book.containers):
        fillings.append(_Filling(DISCARD, (), _microlitres(book.value("discard_ml"))))
    tubes = _in_order(fillings, request, directory, book, stock)
    total = round(sum(filling.microlitres for filling in fillings) / 1000, 3)
    return Plan(
        tubes=tubes,
        total_ml=total,
        limit_ml=allowed,
        findings=tuple(_findings(tubes, total, allowed, request.patient, book)),
    )


def _limit(patient: Measures, now: datetime, book: Rulebook) -> float | None:
    """The most this visit may draw; what a named person allowed counts where it is more."""
    left = allowance(patient.body_on(now.date()), patient.given, book.limits, book.volumes).left_ml
    if left is None or patient.allowed_ml is None:
        return left
    return max(left, patient.allowed_ml)


def _tests(codes: Sequence[str], directory: Directory) -> list[Test]:
    """The tests of these codes, each once, in the directory's order."""
    asked = set()
    for code in codes:
        place = directory.place(code)
        if place is None:
            raise UnknownTest(code)
        asked.add(place)
    return [directory.tests[place] for place in sorted(asked)]


def _bottles(tests: list[Test], allowed: float | None, book: Rulebook) -> list[_Filling]:
    """One set of culture bottles for all cultures, or the children's bottle where the limit allows no set."""
    small = allowed is not None and allowed < book.value("culture_adult_from_limit_ml")
    volume = book.value("culture_paediatric_ml" if small else "culture_bottle_ml")
    inside: dict[str, list[Test]] = {}
    for test in tests:
        for kind in _bottle_kinds(test, small):
            inside.setdefault(kind, []).append(test)
    return [_Filling(kind, tuple(tests), _microlitres(volume)) for kind, tests in inside.items()]


def _bottle_kinds(test: Test, small: bool) -> tuple[str, ...]:
    """The bottles of this culture: the children's one, or all the others it names."""
    fitting = tuple(kind for kind in test.containers if (kind == PAEDIATRIC) == small)
    return fitting or test.containers


def _stock_for(
    tests: list[Test], request: TubeRequest, directory: Directory, book: Rulebook
) -> dict[str, tuple[ContainerSize, ...]]:
    """The sizes of each kind these tests may need, for this patient: the laboratory's own, else the rulebook's."""
    kinds = {DISCARD, *(kind for test in tests for kind in test.containers)}
    age = request.patient.body_on(request.now.date()).age
    is_child = age is not None and age.years < book.value("child_below_years")
    return {
        kind: directory.sizes_of(kind, is_child=is_child)
        or tuple(ContainerSize(kind=kind, nominal_ml=ml) for ml in book.volumes.sizes_of(book.containers[kind]))
        for kind in kinds
    }


def _shared(tests: list[Test], directory: Directory, stock: Mapping[str, tuple[ContainerSize, ...]]) -> list[_Filling]:
    needs = [Need(test.containers, _microlitres(test.min_ml), test.full_draw, directory.party(test)) for test in tests]
    kinds = {kind for need in needs for kind in need.kinds}
    try:
        together = share(
            needs, {kind: _sizes(stock[kind]) for kind in kinds}, {kind: _fills(stock[kind]) for kind in kinds}
        )
    except NoContainer as error:
        test = tests[error.need]
        why = f"needs {test.min_ml:g} mL; no {' or '.join(test.containers)} holds it. Correct the directory."
        raise BadInput("tests", test.loinc or test.code, why) from error
    return [_Filling(one.kind, tuple(tests[place] for place in one.needs), one.microlitres) for one in together]


def _in_order(
    fillings: list[_Filling],
    request: TubeRequest,
    directory: Directory,
    book: Rulebook,
    stock: Mapping[str, tuple[ContainerSize, ...]],
) -> tuple[PlannedTube, ...]:
    order = places(request.needle, book.containers)

    def when(filling: _Filling) -> tuple[int, int]:
        first = min((directory.place(test.code) or 0 for test in filling.tests), default=0)
        return order[filling.kind], first

    return tuple(
        _planned(position, filling, request, directory, book.containers[filling.kind], stock[filling.kind])
        for position, filling in enumerate(sorted(fillings, key=when), start=1)
    )


def _planned(
    position: int,
    filling: _Filling,
    request: TubeRequest,
    directory: Directory,
    container: Container,
    sizes: tuple[ContainerSize, ...],
) -> PlannedTube:
    inside = {test.code for test in filling.tests}
    asked = [(code, test) for code in request.tests if (test := directory.find(code)) and test.code in inside]
    words = {word for test in filling.tests for word in test.words_in(filling.kind)}
    found = least_drawn(_sizes(sizes), filling.microlitres, _fills(sizes))
    return PlannedTube(
        position=position,
        container=container,
        nominal_ml=container.nominal_ml if found is None else found[1] / 1000,
        draw_ml=filling.microlitres / 1000,
        codes=tuple(code for code, _ in asked),
        tests=filling.tests,
        handling=tuple(word for word in HANDLING_WORDS if word in words),
        in_lab_by=in_lab_by(filling.tests, request.now),
    )


def _findings(
    tubes: Sequence[PlannedTube], total_ml: float, allowed: float | None, patient: Measures, book: Rulebook
) -> list[Finding]:
    found = []
    # A child of unknown weight has no limit to stay under, so nothing may be drawn, not even nothing much.
    is_unweighed = patient.weight_kg is None and patient.allowed_ml is None
    if allowed is not None and (total_ml > allowed or is_unweighed):
        found.append(book.finding("volume-over-limit", Severity.STOP, None))
    thick = patient.hematocrit_percent is not None and (
        patient.hematocrit_percent > book.value("hematocrit_max_percent")
    )
    if thick and any(tube.kind == CITRATE for tube in tubes):
        found.append(book.finding("citrate-hematocrit", Severity.ASK, None))
    return found


def _microlitres(millilitres: float) -> int:
    # Whole microlitres: two plans with as much blood must compare equal, which sums of floats do not.
    return round(millilitres * 1000)


def _sizes(sizes: Sequence[ContainerSize]) -> tuple[int, ...]:
    return tuple(_microlitres(size.nominal_ml) for size in sizes)


def _fills(sizes: Sequence[ContainerSize]) -> dict[int, int]:
    return {_microlitres(size.nominal_ml): _microlitres(size.min_fill_ml) for size in sizes}
