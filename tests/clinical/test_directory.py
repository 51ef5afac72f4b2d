"""The test directory: what the built-in one holds, what a bad cell is told, what changes between two."""

from __future__ import annotations

import argparse

import pytest

from bedside.clinical.directory import (
    COLUMNS,
    DirectoryRefused,
    cautions,
    compare,
    is_loinc,
    read_directory,
)
from bedside.commands import directory as command
from bedside.exchange.directory_file import built_in_directory, built_in_text, read_directory_file

# Practice section 14, every code of it. LOINC from mapping tables and FHIR pages, some from memory (section 17).
# fmt: off
MORNING_TESTS = [
    "58410-2", "57021-8", "718-7", "4544-3", "6690-2", "777-3", "24321-2", "24323-8", "24326-1", "2951-2",
    "2823-3", "2075-0", "2028-9", "3094-0", "2160-0", "2345-7", "17861-6", "19123-9", "2777-1", "24325-3",
    "1751-7", "2885-2", "1975-2", "1968-7", "1742-6", "1920-8", "6768-6", "2324-2", "3040-3", "2532-0",
    "5902-2", "6301-6", "14979-9", "3255-7", "48065-7", "66483-9", "10839-9", "89579-7", "67151-1", "33762-6",
    "42637-9", "2157-6", "32693-4", "16362-6", "1988-5", "33959-8", "4537-7", "3016-3", "3024-7", "2143-6",
    "4548-4", "20578-1", "4092-3", "35668-3", "10535-3", "3968-5", "4086-5", "14334-7", "11253-2", "883-9",
    "10331-7", "890-4", "34532-2", "600-7", "2276-4", "2498-4", "2132-9", "2284-8", "24331-1", "57698-3",
    "1994-3", "5117-7", "2692-2", "3084-1", "2731-8",
]
# fmt: on

TESTS = COLUMNS[:15]
HEADER = ",".join(TESTS)
LINE = "CBC,58410-2,Complete blood count,CBC,,haematology,edta,2,,,,,,,the laboratory"


def csv(*lines: str) -> str:
    return "\n".join([HEADER, *lines, ""])


def cell(column: str, value: str) -> str:
    """The good line with one cell changed."""
    cells = LINE.split(",")
    cells[TESTS.index(column)] = value
    return csv(",".join(cells))


def refused(text: str) -> list[tuple[int, str, str]]:
    with pytest.raises(DirectoryRefused) as error:
        read_directory(text)
    return [(problem.line, problem.column, problem.value) for problem in error.value.problems]


# --- the built-in directory ----------------------------------------------------------------------------


@pytest.mark.parametrize("loinc", MORNING_TESTS)
def test_a_morning_test_is_in_the_directory(loinc):
    assert built_in_directory().find(loinc) is not None


def test_every_built_in_line_names_its_source_and_what_is_from_memory():
    for test in built_in_directory().tests:
        assert "from memory" in test.source
        assert "LOINC" in test.source


@pytest.mark.parametrize(
    ("loinc", "words"),
    [
        # W59; TD-14, TD-15, TD-16: Nikolac 2013 Table 4
        ("16362-6", {"ice"}),
        ("32693-4", {"ice"}),
        ("2731-8", {"ice"}),
        ("5117-7", {"37C"}),
        ("1975-2", {"protect-from-light"}),
        ("1968-7", {"protect-from-light"}),
        ("24325-3", {"protect-from-light"}),
    ],
)
def test_a_delicate_test_says_what_it_needs(loinc, words):
    assert words <= built_in_directory().find(loinc).handling


def test_the_built_in_directory_needs_no_caution():
    assert cautions(built_in_directory()) == ()


def test_a_test_is_found_by_either_code():
    directory = built_in_directory()

    assert directory.find("24321-2") is directory.find("BMP")
    assert directory.find("bmp") is None
    assert directory.find("") is None


def test_the_version_is_the_hash_of_the_text():
    assert read_directory(built_in_text()).version == built_in_directory().version
    assert read_directory(built_in_text() + "\n").version != built_in_directory().version


# --- cells ---------------------------------------------------------------------------------------------


def test_a_good_line_is_read():
    [test] = read_directory(csv(LINE)).tests

    assert (test.code, test.loinc, test.short, test.containers, test.min_ml) == (
        "CBC",
        "58410-2",
        "CBC",
        ("edta",),
        2.0,
    )


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("code", ""),
        ("code", "C B C"),
        ("loinc", "58410-3"),
        ("loinc", "58410"),
        ("name", ""),
        ("section", ""),
        ("containers", ""),
        ("containers", "lavender"),
        ("containers", "discard"),
        ("containers", "edta;edta"),
        ("containers", "edta;culture-aerobic"),
        ("containers", "edta;edta-crossmatch"),
        ("min_ml", ""),
        ("min_ml", "0"),
        ("min_ml", "-2"),
        ("min_ml", "two"),
        ("min_ml", "nan"),
        ("min_ml", "6.1"),
        ("full_draw", "maybe"),
        ("handling", "cold"),
        ("handling", "ice;37C"),
        ("handling", "full-draw"),
        ("hurry_in", "heparin"),
        ("in_lab_min", "0"),
        ("in_lab_min", "15.5"),
        ("in_lab_min", "1441"),
        ("in_lab_min", "²"),
        ("timing", "noon"),
        ("apart", "Two Words"),
        ("source", ""),
    ],
)
def test_a_bad_cell_is_named_by_line_and_column(column, value):
    problems = refused(cell(column, value))

    assert {named[:2] for named in problems} == {(2, column)}


def test_a_culture_leaves_its_volume_to_the_rulebook():
    line = "BCX,600-7,Blood culture,,,microbiology,culture-aerobic;culture-anaerobic,{},,,,,,,the laboratory"

    assert read_directory(csv(line.format(""))).tests[0].is_culture
    assert refused(csv(line.format("8"))) == [(2, "min_ml", "8")]


def test_the_largest_container_sets_the_most_a_test_may_need():
    # sizes from memory; a site's setting
    assert read_directory(cell("min_ml", "6")).tests[0].min_ml == 6.0
    assert refused(cell("min_ml", "6.001")) == [(2, "min_ml", "6.001")]


@pytest.mark.parametrize(
    ("loinc", "column", "value"),
    [
        # TD-14: Nikolac 2013 Table 4, chilling makes potassium useless; the panels hold potassium
        ("2823-3", "handling", "ice"),
        ("24321-2", "handling", "ice"),
        ("24323-8", "handling", "ice"),
        ("24326-1", "handling", "ice"),
        # practice section 14 row 52, from memory
        ("14334-7", "containers", "serum;heparin"),
    ],
)
def test_a_line_that_would_spoil_the_specimen_is_refused(loinc, column, value):
    cells = dict(zip(TESTS, LINE.split(","), strict=True)) | {"loinc": loinc, column: value}

    assert [found[:2] for found in refused(csv(",".join(cells.values())))] == [(2, column)]


def test_a_test_without_gel_names_no_gel_tube():
    line = "PHNY,3968-5,Phenytoin,,,toxicology,serum-gel,2,,no-gel,,,,,the laboratory"

    assert refused(csv(line)) == [(2, "containers", "serum-gel")]


def test_all_bad_cells_of_a_file_are_told_at_once():
    problems = refused(csv(LINE, LINE.replace("edta", "lavender"), "X,,,,,s,edta,two,,,,,,,the laboratory"))

    assert problems == [(3, "containers", "lavender"), (4, "name", ""), (4, "min_ml", "two")]


def test_a_code_stands_once():
    assert refused(csv(LINE, LINE)) == [(3, "code", "CBC"), (3, "loinc", "58410-2")]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", (1, "line", "")),
        ("code,name,section,containers,min_ml\n", (1, "columns", "source")),
        (f"{HEADER},colour\n{LINE},lavender\n", (1, "columns", "colour")),
        (f"{HEADER},code\n", (1, "columns", "code")),
        (csv(LINE + ",more"), (2, "line", LINE + ",more")),
        (csv('CBC,"58410-2" x,CBC'), (2, "line", "")),
    ],
)
def test_a_file_of_another_shape_is_refused(text, problem):
    assert refused(text) == [problem]


def test_empty_lines_and_a_byte_order_mark_are_no_matter():
    assert [test.code for test in read_directory("\ufeff" + csv("", LINE, ",,,")).tests] == ["CBC"]


@pytest.mark.parametrize(
    ("code", "right"),
    [("2823-3", True), ("600-7", True), ("2823-4", False), ("2823", False), ("2823-33", False), ("", False)],
)
def test_a_loinc_has_its_check_digit(code, right):
    # LOINC's modulus 10 check digit, from memory; 2823-3 potassium, 600-7 blood culture
    assert is_loinc(code) == right


def test_ammonia_without_ice_is_a_caution():
    text = csv("NH3,16362-6,Ammonia,,,chemistry,edta,2,,,,15,,,the laboratory")

    # W59, TD-14: Nikolac 2013 Table 4
    [sentence] = cautions(read_directory(text))
    assert "NH3" in sentence and "'ice'" in sentence


# --- comparing -----------------------------------------------------------------------------------------


def test_a_comparison_tells_what_came_went_and_changed():
    before = read_directory(csv(LINE, "K,2823-3,Potassium,,,chemistry,serum;heparin,2,,,,,,,the laboratory"))
    after = read_directory(csv(LINE.replace("edta,2,", "edta,3,"), "X,,New,,,other,acd,2,,,,,,,the laboratory"))

    found = compare(before, after)

    assert [test.code for test in found.added] == ["X"]
    assert [test.code for test in found.removed] == ["K"]
    assert [(one.code, one.column, one.before, one.after) for one in found.changed] == [("CBC", "min_ml", "2", "3")]


def test_a_directory_is_the_same_as_itself():
    assert compare(built_in_directory(), built_in_directory()).is_same


# --- the command ---------------------------------------------------------------------------------------


@pytest.fixture
def run(capsys):
    parser = argparse.ArgumentParser()
    command.arguments(parser)

    def run(*words: str) -> tuple[int, str, str]:
        return command.run(parser.parse_args(words)), *capsys.readouterr()

    return run


def test_the_command_compares_with_the_built_in_directory(run, tmp_path):
    file = tmp_path / "ours.csv"
    file.write_text(built_in_text().replace("edta,2,,,,,,", "edta,3,,,,,,", 1), encoding="utf-8")

    status, out, _ = run(str(file))

    assert status == 0
    assert "changed: CBC min_ml: '2' -> '3'" in out


def test_the_command_only_checks_when_asked(run, tmp_path):
    file = tmp_path / "ours.csv"
    file.write_text(csv(LINE), encoding="utf-8")

    assert "removed" in run(str(file))[1]
    assert "removed" not in run("--check", str(file))[1]


def test_the_command_names_every_bad_cell(run, tmp_path):
    file = tmp_path / "ours.csv"
    file.write_text(csv(LINE.replace("edta", "lavender"), LINE.replace(",2,", ",two,")), encoding="utf-8")

    status, out, told = run(str(file))

    assert (status, out) == (2, "")
    assert [line.partition(": ")[0] for line in told.splitlines()] == ["line 2, containers", "line 3, min_ml"]


def test_the_command_writes_out_a_directory_that_it_accepts(run, tmp_path):
    file = tmp_path / "built-in.csv"
    file.write_text(run("--show")[1], encoding="utf-8")

    assert "the same tests as the built-in directory" in run(str(file))[1]


@pytest.mark.parametrize("words", [(), ("nowhere.csv",)])
def test_without_a_file_the_command_says_so(run, words):
    status, out, told = run(*words)

    assert (status, out) == (2, "")
    assert "FILE" in told


def test_a_file_that_is_not_utf_8_is_named_by_its_line(tmp_path):
    file = tmp_path / "latin.csv"
    file.write_bytes(csv(LINE.replace("Complete", "Größe")).encode("latin-1"))

    with pytest.raises(DirectoryRefused) as error:
        read_directory_file(file)
    assert [(problem.line, problem.column) for problem in error.value.problems] == [(2, "line")]
