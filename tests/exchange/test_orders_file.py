"""The orders file: every bad cell is named, and nothing is taken while one is left."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedside.exchange.orders_file import Examined, examine
from bedside.exchange.trouble import FileRefused, FileUnusable
from bedside.records.order_content import OrderContent, PatientFacts
from tests.exchange.sheet import DIRECTORY, KAARINA, NOW, row, sheet


def looked_at(*rows: dict[str, str]) -> Examined:
    return examine(sheet(*rows), DIRECTORY, NOW)


def places(examined: Examined) -> list[tuple[int, str]]:
    return [(trouble.line, trouble.column) for trouble in examined.troubles]


def trouble_with(**cells: str) -> list[tuple[int, str]]:
    return places(looked_at(row(**cells)))


# --- what is taken ------------------------------------------------------------------------------------


def test_a_plain_row_is_read_whole():
    (read,) = looked_at(KAARINA).orders()

    assert read.line == 2
    assert read.order == OrderContent(
        number="A-1001",
        record_number="40031977",
        test="24321-2",
        priority="routine",
        due_from=datetime(2026, 11, 25, 4, tzinfo=UTC),
        due_to=datetime(2026, 11, 25, 7, tzinfo=UTC),
    )
    assert read.patient == PatientFacts(
        record_number="40031977",
        family="Ojala",
        given="Kaarina",
        birth_date=date(1951, 3, 9),
        sex="female",
        ward="5",
        room="14",
        bed="B",
    )


def test_every_optional_column_is_read():
    (read,) = looked_at(
        row(
            note="left hand only",
            weight_kg="61.5",
            height_m="1.65",
            hematocrit_percent="57",
            blood_thinner="yes",
            latex_allergy="no",
            restrictions="left:fistula; right:iv",
            isolation="contact",
            language="fi",
            collect_by="nurse",
            dose_at="2026-11-25T06:00+01:00",
            infusion_end_at="2026-11-25T05:30:00.250Z",
            specimen="venous",
        )
    ).orders()

    assert read.order.note == "left hand only"
    assert read.order.collect_by == "nurse"
    assert read.order.dose_at == datetime(2026, 11, 25, 5, tzinfo=UTC)
    assert read.order.infusion_end_at == datetime(2026, 11, 25, 5, 30, 0, 250_000, tzinfo=UTC)
    assert read.patient.weight_kg == 61.5
    assert read.patient.blood_thinner is True
    assert read.patient.latex_allergy is False
    assert read.patient.restrictions == (("left", "fistula"), ("right", "iv"))
    assert (read.patient.isolation, read.patient.language) == ("contact", "fi")


def test_empty_optional_cells_say_nothing():
    (read,) = looked_at(row(weight_kg="", blood_thinner="", restrictions="", isolation="", collect_by="")).orders()

    assert read.patient.weight_kg is None
    assert read.patient.blood_thinner is None
    assert read.patient.restrictions is None
    assert read.patient.isolation is None
    assert read.order.collect_by == "phlebotomist"


def test_none_says_that_there_is_none():
    (read,) = looked_at(row(restrictions="none", isolation="None")).orders()

    assert read.patient.restrictions == ()
    assert read.patient.isolation == ""


def test_a_local_code_names_a_test_as_well_as_a_loinc_code():
    assert looked_at(row(test="CBC")).troubles == ()


def test_a_byte_order_mark_and_windows_line_ends_are_accepted():
    data = b"\xef\xbb\xbf" + sheet(KAARINA).replace(b"\n", b"\r\n")

    assert len(examine(data, DIRECTORY, NOW).orders()) == 1


def test_empty_lines_and_lines_of_commas_are_passed_over_but_counted():
    lines = sheet(KAARINA, row(order="A-1002", sex="robot")).decode().splitlines()
    data = "\n".join([lines[0], "", lines[1], "," * 12, lines[2], ""]).encode()

    assert places(examine(data, DIRECTORY, NOW)) == [(5, "sex")]


def test_a_quoted_cell_over_two_lines_does_not_shift_the_line_numbers():
    data = sheet(row(note="one\ntwo"), row(order="A-1002", sex="robot"))

    assert places(examine(data, DIRECTORY, NOW)) == [(2, "note"), (4, "sex")]


def test_columns_may_stand_in_any_order():
    assert looked_at(dict(reversed(KAARINA.items()))).troubles == ()


def test_a_file_with_columns_and_no_order_is_an_empty_morning():
    assert examine(sheet(KAARINA).splitlines()[0], DIRECTORY, NOW).orders() == []


@pytest.mark.parametrize("formula", ["=1+1", "=cmd|'/C calc'!A0", "+41 22", "-3", "@SUM(A1:A9)"])
def test_what_a_spreadsheet_would_calculate_is_just_text(formula):
    (read,) = looked_at(row(note=formula, family=formula)).orders()

    assert read.order.note == formula
    assert read.patient.family == formula


def test_names_in_any_script_are_taken_as_they_are():
    names = ["Nguyễn", "Щербакова", "المنصوري", "歐陽", "O’Brien-Łuczak", "ச்ரீநிவாசன்", "می‌رزا"]
    rows = [row(order=f"A-{n}", record_number=f"R{n}", family=name) for n, name in enumerate(names)]

    assert [read.patient.family for read in looked_at(*rows).orders()] == names


def test_letters_that_look_equal_are_equal():
    (read,) = looked_at(row(family="Jose\u0301")).orders()

    assert read.patient.family == "José"


def test_a_place_in_the_corridor_has_neither_room_nor_bed():
    (read,) = looked_at(row(room="", bed="")).orders()

    assert (read.patient.ward, read.patient.room, read.patient.bed) == ("5", "", "")


def test_a_person_with_one_name_has_no_comma():
    (read,) = looked_at(row(family="Sukarno", given="-")).orders()

    assert read.patient.name == "Sukarno"


# --- what is refused, cell by cell --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("order", ""),
        ("order", "x" * 41),
        ("record_number", ""),
        ("record_number", "4003 1977"),
        ("record_number", "40031977|1951-03-09"),
        ("record_number", "9" * 21),
        ("record_number", "٤٠٠٣"),
        ("family", ""),
        ("family", "Ojala, Kaarina"),
        ("family", "x" * 81),
        ("given", ""),
        ("birth_date", ""),
        ("birth_date", "09.03.1951"),
        ("birth_date", "1951-3-9"),
        ("birth_date", "1951-02-29"),
        ("birth_date", "1889-12-31"),
        ("birth_date", "2026-11-26"),
        ("birth_date", "1951-03-09T00:00"),
        ("sex", ""),
        ("sex", "F"),
        ("ward", ""),
        ("test", ""),
        ("test", "99999-9"),
        ("test", "cbc; bmp"),
        ("priority", ""),
        ("priority", "soon"),
        ("due_from", ""),
        ("due_from", "2026-11-25 04:00Z"),
        ("due_from", "2026-11-25T04:00"),
        ("due_from", "2026-11-25T25:00Z"),
        ("due_from", "2026-W48-3T04:00Z"),
        ("due_from", "tomorrow"),
        ("due_from", "0001-01-01T00:00+14:00"),
        ("due_to", "2026-11-25T03:59:59Z"),
        ("due_to", "2026-11-25T07:00+99:00"),
        ("note", "x" * 301),
        ("note", "nul \x00 inside"),
        ("note", "bell \x07"),
        ("family", "Oja\u202ela"),
        ("family", "Oja\u200bla"),
        ("family", "Oja\ufffdla"),
        ("weight_kg", "61,5"),
        ("weight_kg", "0"),
        ("weight_kg", "-61"),
        ("weight_kg", "nan"),
        ("weight_kg", "1e2"),
        ("weight_kg", "651"),
        ("height_m", "165"),
        ("hematocrit_percent", "0.45"),
        ("blood_thinner", "maybe"),
        ("latex_allergy", "y"),
        ("restrictions", "left"),
        ("restrictions", "left:shunt"),
        ("restrictions", "both:fistula"),
        ("restrictions", "left:iv,right:iv"),
        ("language", "Finnish please"),
        ("collect_by", "surgeon"),
        ("dose_at", "06:00"),
        ("infusion_end_at", "2026-02-30T06:00Z"),
        ("specimen", "saliva"),
    ],
)
def test_a_bad_cell_is_named_by_line_and_column(column, cell):
    assert trouble_with(**{column: cell}) == [(2, column)]


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("order", "x" * 40),
        ("record_number", "9" * 20),
        ("family", "x" * 80),
        ("note", "x" * 300),
        ("birth_date", "1890-01-01"),
        ("weight_kg", "0.2"),
        ("weight_kg", "650"),
        ("height_m", "2.8"),
        ("hematocrit_percent", "90"),
    ],
)
def test_a_cell_exactly_at_its_limit_is_taken(column, cell):
    assert trouble_with(**{column: cell}) == []


def test_a_bad_cell_says_what_is_wrong_why_and_what_to_do():
    (trouble,) = looked_at(row(birth_date="09.03.1951")).troubles

    assert str(trouble) == (
        'line 2, column birth_date: "09.03.1951" is not a date in the form that cannot be misread. '
        "Write it as YYYY-MM-DD, like 1951-03-09."
    )


def test_every_bad_cell_of_every_row_is_named_at_once():
    examined = looked_at(
        row(sex="F", due_to="never"),
        row(order="A-1002", record_number="40031978"),
        row(order="A-1003", record_number="40031979", birth_date="x", weight_kg="heavy"),
    )

    assert places(examined) == [(2, "due_to"), (2, "sex"), (4, "birth_date"), (4, "weight_kg")]


def test_one_bad_cell_keeps_every_row_out():
    examined = looked_at(KAARINA, row(order="A-1002", sex="F"))

    with pytest.raises(FileRefused, match="line 3, column sex"):
        examined.orders()


def test_invisible_characters_are_written_out_where_they_are_named():
    (trouble,) = looked_at(row(note="a\x1b[31mb")).troubles

    assert "\\u001b" in str(trouble)
    assert "\x1b" not in str(trouble)


@pytest.mark.parametrize(
    ("end", "allowed"),
    [("2026-11-25T03:59:59Z", False), ("2026-11-25T04:00:00Z", True), ("2026-11-25T04:00:01Z", True)],
)
def test_an_order_may_be_due_at_one_moment_but_not_end_before_it_begins(end, allowed):
    assert (trouble_with(due_to=end) == []) is allowed


@pytest.mark.parametrize(("born", "allowed"), [("2026-11-24", True), ("2026-11-25", True), ("2026-11-26", False)])
def test_a_child_born_today_can_have_orders_and_one_born_tomorrow_cannot(born, allowed):
    assert (trouble_with(birth_date=born) == []) is allowed


@pytest.mark.parametrize("cell", ["capillary", "Capillary blood", "fingerstick", "heel prick"])
@pytest.mark.parametrize("column", ["specimen", "collect_by"])
def test_a_capillary_draw_is_refused_in_plain_sight(column, cell):
    (trouble,) = looked_at(row(**{column: cell})).troubles

    assert "capillary draw" in trouble.says
    assert "another way" in trouble.do_next


def test_an_arterial_draw_is_refused_in_plain_sight():
    (trouble,) = looked_at(row(specimen="arterial")).troubles

    assert "arterial draw" in trouble.says


# --- columns and text ---------------------------------------------------------------------------------


def test_an_unknown_column_is_an_error():
    assert trouble_with(shoe_size="41") == [(1, "shoe_size")]


@pytest.mark.parametrize("column", list(KAARINA))
def test_a_missing_column_is_an_error(column):
    without = {name: cell for name, cell in KAARINA.items() if name != column}

    assert places(looked_at(without)) == [(1, column)]


def test_a_doubled_column_is_an_error():
    lines = sheet(KAARINA).decode().splitlines()
    data = f"{lines[0]},bed\n{lines[1]},C\n".encode()

    assert places(examine(data, DIRECTORY, NOW)) == [(1, "bed")]


def test_a_nameless_column_is_an_error():
    lines = sheet(KAARINA).decode().splitlines()

    assert places(examine(f"{lines[0]},\n{lines[1]},\n".encode(), DIRECTORY, NOW)) == [(1, "(columns)")]


def test_semicolons_between_columns_are_named_for_what_they_are():
    (trouble,) = examine(sheet(KAARINA).replace(b",", b";"), DIRECTORY, NOW).troubles

    assert "semicolons" in trouble.says


@pytest.mark.parametrize("cells", [12, 14])
def test_a_row_with_too_few_or_too_many_cells_is_named(cells):
    header, good = sheet(KAARINA).decode().splitlines()
    bad = ",".join([*good.split(","), "x"][:cells])

    assert places(examine(f"{header}\n{bad}\n".encode(), DIRECTORY, NOW)) == [(2, "(line)")]


def test_an_open_quotation_mark_is_named_by_the_line_it_opens_in():
    data = sheet(KAARINA, row(order="A-1002", note='"')).decode().replace('""""', '"').encode()

    assert (3, "(line)") in places(examine(data, DIRECTORY, NOW))


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xef\xbb\xbf", b" , , \n"])
def test_an_empty_file_is_unusable(data):
    with pytest.raises(FileUnusable, match="empty"):
        examine(data, DIRECTORY, NOW)


def test_another_encoding_is_unusable_and_its_line_is_named():
    with pytest.raises(FileUnusable, match="Line 2 is not UTF-8"):
        examine(sheet(row(family="Sjöberg")).decode().encode("latin-1"), DIRECTORY, NOW)


def test_utf_16_is_named_for_what_it_is():
    with pytest.raises(FileUnusable, match="UTF-16"):
        examine(sheet(KAARINA).decode().encode("utf-16"), DIRECTORY, NOW)


@pytest.mark.parametrize(("size", "allowed"), [(2097151, True), (2097152, True), (2097153, False)])
def test_a_file_over_two_mebibytes_is_unusable(size, allowed):
    good = sheet(KAARINA)
    data = good + b"\n" * (size - len(good))

    if allowed:
        assert len(examine(data, DIRECTORY, NOW).orders()) == 1
    else:
        with pytest.raises(FileUnusable, match="2 MiB"):
            examine(data, DIRECTORY, NOW)


@pytest.mark.parametrize(("rows", "allowed"), [(4999, True), (5000, True), (5001, False)])
def test_a_file_over_five_thousand_rows_is_unusable(rows, allowed):
    data = sheet(*(row(order=f"A-{n}") for n in range(rows)))

    if allowed:
        assert len(examine(data, DIRECTORY, NOW).orders()) == rows
    else:
        with pytest.raises(FileUnusable, match="5,000"):
            examine(data, DIRECTORY, NOW)


# --- rows against each other --------------------------------------------------------------------------


def test_the_same_row_twice_is_one_order():
    assert len(looked_at(KAARINA, KAARINA).orders()) == 1


def test_one_order_number_with_two_contents_is_refused_and_both_lines_named():
    (trouble,) = looked_at(KAARINA, row(test="58410-2")).troubles

    assert (trouble.line, trouble.column) == (3, "order")
    assert "line 2" in trouble.says


def test_one_order_number_for_two_patients_is_refused():
    assert places(looked_at(KAARINA, row(record_number="40031978", family="Ojanen"))) == [(3, "order")]


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("birth_date", "1951-03-10"),
        ("sex", "male"),
        ("family", "Ojanen"),
        ("given", "Kaisa"),
    ],
)
def test_one_record_number_is_one_person(column, cell):
    examined = looked_at(KAARINA, row(**{"order": "A-1002", column: cell}))

    assert [trouble.line for trouble in examined.troubles] == [3]
    assert "line 2" in examined.troubles[0].says


@pytest.mark.parametrize(("column", "first", "second"), [("weight_kg", "12", "21"), ("height_m", "1.65", "1.56")])
def test_two_weights_or_heights_for_one_patient_are_refused(column, first, second):
    examined = looked_at(row(**{column: first}), row(**{"order": "A-1002", column: second}))

    assert places(examined) == [(3, column)]


def test_a_name_written_without_its_accents_is_the_same_person():
    rows = [row(family="Łuczak", given="Zoë"), row(order="A-1002", family="Luczak", given="Zoe")]

    assert looked_at(*rows).patients()[0].name == "Łuczak, Zoë"


def test_what_the_rows_say_about_one_patient_is_put_together():
    examined = looked_at(
        row(weight_kg="61", blood_thinner="yes", restrictions="left:fistula", isolation="contact"),
        row(order="A-1002", blood_thinner="no", restrictions="right:iv", bed="C"),
        row(order="A-1003", bed="C"),
    )

    (kaarina,) = examined.patients()
    assert kaarina.weight_kg == 61
    assert kaarina.blood_thinner is True
    assert kaarina.restrictions == (("left", "fistula"), ("right", "iv"))
    assert kaarina.isolation == "contact"
    assert kaarina.bed == "C"


def test_no_restriction_in_one_row_does_not_undo_one_in_another():
    (kaarina,) = looked_at(row(restrictions="left:fistula"), row(order="A-1002", restrictions="none")).patients()

    assert kaarina.restrictions == (("left", "fistula"),)


# --- whatever comes -----------------------------------------------------------------------------------


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_but_never_break_the_house(data):
    try:
        assert isinstance(examine(data, DIRECTORY, NOW), Examined)
    except FileUnusable as unusable:
        assert str(unusable)


@given(st.dictionaries(st.sampled_from(list(KAARINA)), st.text(max_size=30), min_size=1))
def test_any_cells_are_taken_or_named(cells):
    examined = looked_at(row(**cells))

    assert len(examined.rows) == 1 or examined.troubles
    assert {trouble.column for trouble in examined.troubles} <= {*KAARINA, "(line)"}
