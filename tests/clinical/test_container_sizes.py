"""The laboratory's own tables in its directory: which sizes it hands out, to whom, and what it keeps apart."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from bedside.clinical.directory import DirectoryRefused, compare, read_directory
from bedside.clinical.rulebook import default_book
from bedside.clinical.rulebook_volumes import NOMINAL_ML
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory

NOW = datetime(2026, 11, 25, 5, tzinfo=UTC)
TESTS = """code,name,section,containers,min_ml,full_draw,handling,timing,blood,source
A,Clotting,coagulation,citrate,1,yes,,,separated,the laboratory
B,Count,haematology,edta,1,,,,whole,the laboratory
C,Hormone,chemistry,edta,1,,,,separated,the laboratory
D,Vitamin,chemistry,edta,1,,protect-from-light,,separated,the laboratory
E,Level,chemistry,edta,1,,,trough,separated,the laboratory
"""
SIZES = """container,nominal_ml,min_fill_ml,for,source
citrate,1,0.9,child,the laboratory
citrate,2.7,2.43,adult,the laboratory
edta,3,2,adult,the laboratory
edta,6,1.5,adult,the laboratory
edta,0.5,,child,the laboratory
edta,1.3,,child,the laboratory
"""


def planned(text: str, *tests: str, born: date | None = date(1960, 1, 1)) -> list[tuple[str, float, float]]:
    patient = Measures(birth_date=born, weight_kg=30.0)
    made = plan_tubes(TubeRequest(patient=patient, tests=tests, now=NOW), read_directory(text), default_book())
    return [(tube.kind, tube.nominal_ml, tube.draw_ml) for tube in made.tubes]


def refused(text: str) -> list[tuple[int, str]]:
    with pytest.raises(DirectoryRefused) as error:
        read_directory(text)
    return [(problem.line, problem.column) for problem in error.value.problems]


# --- sizes ---------------------------------------------------------------------------------------------


def test_a_tube_that_is_filled_is_a_small_one_for_a_child_and_a_large_one_for_an_adult():
    # under 14 years: BV-06, the handbook's table
    assert planned(TESTS + SIZES, "A") == [("citrate", 2.7, 2.7)]
    assert planned(TESTS + SIZES, "A", born=date(2012, 11, 26)) == [("citrate", 1.0, 1.0)]
    assert planned(TESTS + SIZES, "A", born=date(2012, 11, 25)) == [("citrate", 2.7, 2.7)]
    assert planned(TESTS + SIZES, "A", born=None) == [("citrate", 2.7, 2.7)]


def test_the_size_that_takes_the_least_blood_is_chosen_not_the_smallest():
    # 1 mL is asked for; the tube of 3 mL takes 2 at least, the one of 6 mL is content with 1.5.
    assert planned(TESTS + SIZES, "B") == [("edta", 6.0, 1.5)]


def test_without_a_table_of_sizes_the_rulebooks_sizes_count():
    assert planned(TESTS, "A", "B") == [("citrate", 1.8, 1.8), ("edta", 2.0, 1.0)]


def test_the_built_in_sizes_for_everybody_are_the_rulebooks():
    directory = built_in_directory()
    named = {kind: sizes for kind in NOMINAL_ML if (sizes := directory.sizes_of(kind, is_child=False))}

    assert {kind: tuple(size.nominal_ml for size in sizes) for kind, sizes in named.items()} == {
        kind: sizes for kind, sizes in NOMINAL_ML.items() if kind != "discard" and not kind.startswith("culture")
    }
    assert all("from memory" in size.source for size in directory.sizes)


def test_the_built_in_least_fills_change_no_draw():
    # contract, draw_ml: the largest of the minimum volumes, a full draw its nominal volume
    directory, book = built_in_directory(), default_book()
    for test in directory.tests:
        for born in (date(1960, 1, 1), date(2020, 1, 1)):
            patient = Measures(birth_date=born, weight_kg=50.0)
            made = plan_tubes(TubeRequest(patient=patient, tests=(test.code,), now=NOW), directory, book)
            if not test.is_culture:
                [tube] = made.tubes
                assert tube.draw_ml == (tube.nominal_ml if test.full_draw else test.min_ml)


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("lavender,3,,,the laboratory", "container"),
        ("discard,2,,,the laboratory", "container"),
        ("culture-aerobic,10,,,the laboratory", "container"),
        ("serum,,,,the laboratory", "nominal_ml"),
        ("serum,0,,,the laboratory", "nominal_ml"),
        ("serum,five,,,the laboratory", "nominal_ml"),
        ("serum,5,5.001,,the laboratory", "min_fill_ml"),
        ("serum,5,some,,the laboratory", "min_fill_ml"),
        ("serum,5,,infant,the laboratory", "for"),
        ("serum,5,,,", "source"),
        ("edta,3,,,the laboratory", "nominal_ml"),
        ("edta,3,1,adult,the laboratory", "nominal_ml"),
        ("serum,5,,,the laboratory,more", "line"),
    ],
)
def test_a_bad_cell_of_the_sizes_is_named_by_line_and_column(line, column):
    assert refused(f"{TESTS}{SIZES}{line}\n") == [(14, column)]


@pytest.mark.parametrize("fill", ["5", "4.999", "0", ""])
def test_a_tube_may_have_to_be_full(fill):
    text = f"{TESTS}container,nominal_ml,min_fill_ml,for,source\nserum,5,{fill},,the laboratory\n"

    assert read_directory(text).sizes[0].min_fill_ml == float(fill or 0)


def test_a_kind_has_a_size_for_everybody():
    assert refused(TESTS + SIZES + "serum,5,,adult,the laboratory\n") == [(7, "for")]
    assert refused(TESTS + SIZES + "serum,5,,child,the laboratory\n") == [(7, "for")]


def test_a_test_needs_no_more_than_the_largest_tube_that_everybody_has():
    assert refused((TESTS + SIZES).replace("edta,1,", "edta,1.4,", 1)) == [(3, "min_ml")]
    assert len(read_directory((TESTS + SIZES).replace("edta,1,", "edta,1.3,", 1)).tests) == 5


def test_a_spreadsheet_may_pad_the_tables_with_empty_cells():
    padded = "".join(f"{line},,,,\n" for line in SIZES.splitlines())

    assert read_directory(TESTS + padded).sizes == read_directory(TESTS + SIZES).sizes


def test_a_table_stands_once_and_has_its_columns():
    assert refused(TESTS + SIZES + SIZES) == [(14, "line")]
    assert refused(TESTS + "container,nominal_ml,source\n") == [(7, "columns"), (7, "columns")]


# --- what is kept apart --------------------------------------------------------------------------------


def tubes(text: str, *tests: str) -> list[tuple[str, ...]]:
    patient = Measures(birth_date=date(1960, 1, 1))
    made = plan_tubes(TubeRequest(patient=patient, tests=tests, now=NOW), read_directory(text), default_book())
    return [tube.codes for tube in made.tubes]


@pytest.mark.parametrize(
    ("facts", "shared"),
    [
        # contract: by default only ice, 37 °C and the crossmatch part
        ((), [("B", "C", "D", "E")]),
        (("section",), [("B",), ("C", "D", "E")]),
        (("blood",), [("B",), ("C", "D", "E")]),
        (("light",), [("B", "C", "E"), ("D",)]),
        (("timed",), [("B", "C", "D"), ("E",)]),
        (("section", "light", "timed"), [("B",), ("C",), ("D",), ("E",)]),
    ],
)
def test_a_laboratory_says_what_it_keeps_apart(facts, shared):
    table = "".join(f"{fact},the laboratory\n" for fact in facts)

    assert tubes(f"{TESTS}keeps_apart,source\n{table}", "B", "C", "D", "E") == shared


def test_the_built_in_directory_parts_by_nothing_the_contract_does_not_name():
    assert built_in_directory().keeps_apart == ()


def test_every_built_in_test_but_cultures_and_blood_groups_says_whole_or_separated():
    for test in built_in_directory().tests:
        assert bool(test.blood) != (test.is_culture or "edta-crossmatch" in test.containers)


@pytest.mark.parametrize(
    ("line", "column"),
    [("colour,us", "keeps_apart"), ("light,", "source"), ("section,us", "keeps_apart")],
)
def test_a_bad_cell_of_what_is_kept_apart_is_named(line, column):
    assert refused(f"{TESTS}keeps_apart,source\nsection,us\n{line}\n") == [(9, column)]


def test_whole_or_separated_are_the_only_words():
    assert refused(TESTS.replace("whole", "partly", 1)) == [(3, "blood")]


# --- comparing -----------------------------------------------------------------------------------------


def test_a_comparison_tells_the_sizes_and_what_is_kept_apart():
    before = read_directory(TESTS + SIZES)
    after = read_directory(TESTS + SIZES.replace("edta,3,2,", "edta,4,2,") + "keeps_apart,source\nlight,us\n")

    found = compare(before, after)

    assert [(one.code, one.column, one.before, one.after) for one in found.changed] == [
        ("edta", "sizes in mL", "0.5 child; 1.3 child; 3 from 2 adult; 6 from 1.5 adult",
         "0.5 child; 1.3 child; 4 from 2 adult; 6 from 1.5 adult"),
        ("all tests", "keeps_apart", "", "light"),
    ]  # fmt: skip
    assert not found.is_same
