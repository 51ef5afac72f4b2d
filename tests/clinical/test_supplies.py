"""What a round takes along: containers with spares, and what cold, warm, dark and isolated draws ask for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bedside.clinical.rulebook import default_book
from bedside.clinical.supplies import Stopping, TubeNeeded, supplies_of

BOOK = default_book()
GEL = TubeNeeded(kind="serum-gel", nominal_ml=2.5)
EDTA = TubeNeeded(kind="edta", nominal_ml=2.0)


def visit(*tubes: TubeNeeded, bed: str = "14 B", **more: object) -> Stopping:
    return Stopping(bed=bed, needle=str(more.pop("needle", "straight")), tubes=tubes, **more)


def lines(*visits: Stopping) -> dict[str, tuple[int, int]]:
    return {line.item: (line.count, line.spare) for line in supplies_of(visits, BOOK)}


def test_containers_are_counted_by_kind_and_size_and_stand_in_the_order_of_draw():
    found = supplies_of([visit(EDTA, GEL), visit(GEL, bed="9 A")], BOOK)

    assert [(line.what, line.count, line.beds) for line in found[:2]] == [
        ("serum gel, 2.5 mL", 2, ("14 B", "9 A")),
        ("EDTA, 2 mL", 1, ("14 B",)),
    ]


@pytest.mark.parametrize(("count", "spare"), [(1, 1), (5, 1), (6, 2), (10, 2), (11, 3)])
def test_a_fifth_is_taken_as_spares_and_never_less_than_one(count, spare):
    assert lines(*[visit(GEL, bed=str(n)) for n in range(count)])["tube:serum-gel:2.5"] == (count, spare)


def test_a_site_sets_its_own_share_of_spares():
    none = replace(
        BOOK, limits={**BOOK.limits, "supply_spare_percent": replace(BOOK.limits["supply_spare_percent"], value=0)}
    )

    assert supplies_of([visit(GEL)], none)[0].spare == 0


@pytest.mark.parametrize(
    ("stop", "item"),
    [
        (visit(GEL), "needle:straight"),
        (visit(GEL, needle="winged"), "needle:winged"),
        (visit(TubeNeeded(kind="discard", nominal_ml=2.0), GEL), "tube:discard:2"),
        (visit(TubeNeeded(kind="culture-aerobic", nominal_ml=10.0)), "care:culture-kit"),
        (visit(replace(EDTA, handling=("ice",))), "care:ice"),
        (visit(replace(GEL, handling=("protect-from-light",))), "care:foil"),
        (visit(replace(GEL, handling=("37C",))), "care:warm"),
        (visit(GEL, isolation="contact"), "care:isolation:contact"),
        (visit(GEL, needs_adjusted=True), "care:adjusted-citrate"),
        (visit(GEL), "care:bag"),
    ],
)
def test_what_a_draw_needs_beside_its_tubes(stop, item):
    assert item in lines(stop)


def test_nothing_special_is_taken_for_a_plain_draw():
    assert set(lines(visit(GEL))) == {"tube:serum-gel:2.5", "needle:straight", "care:dressing", "care:bag"}


def test_a_visit_without_tubes_needs_nothing():
    assert supplies_of([visit()], BOOK) == ()


def test_an_adjusted_tube_is_one_patients_own_and_has_no_spare():
    assert lines(visit(GEL, needs_adjusted=True))["care:adjusted-citrate"] == (1, 0)


def test_a_size_nobody_wrote_down_is_the_usual_one():
    assert "tube:edta:3" in lines(visit(TubeNeeded(kind="edta", nominal_ml=None)))
