"""Taking orders in: all or nothing, each once, and never two people under one record number."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from bedside.exchange.orders_in import check_orders, take_in_orders
from bedside.exchange.trouble import FileRefused
from bedside.records import audit, order_standing, projections
from bedside.records.database import connected, db, writing
from bedside.records.house import house, make_house
from bedside.records.orders import TakenIn
from bedside.records.rounds_open import nurse_orders, waiting_orders
from bedside.records.tables import ImportBatch, Order, OrderNow, Patient, Ward
from bedside.settings import Settings
from tests.exchange.sheet import KAARINA, NOW, row, sheet

# Bo lies next to Kaarina.
BO = row(order="A-2001", record_number="40031985", family="Ek", given="Bo", birth_date="1990-12-01", bed="A")


@pytest.fixture(autouse=True)
def home(tmp_path: Path) -> Iterator[Path]:
    make_house(Settings(home=tmp_path / "house"), NOW)
    with connected():
        yield tmp_path


def take(*rows: dict[str, str]) -> TakenIn:
    return take_in_orders(sheet(*rows), file_name="morning.csv", at=NOW)


def everything_kept() -> list[object]:
    tables = (Ward, Patient, Order, OrderNow, ImportBatch)
    kept = [sorted(str(row) for row in table.select().tuples()) for table in tables]
    return [*kept, house().revision, [entry.hash for entry in audit.entries()]]


# --- all or nothing, once -----------------------------------------------------------------------------


def test_orders_patients_and_ward_are_kept():
    taken = take(KAARINA, row(order="A-1002", test="58410-2"), BO)

    assert (taken.new, taken.patients_new) == (3, 2)
    assert {ward.name for ward in Ward.select()} == {"5"}
    assert [patient.name for patient in Patient.select().order_by(Patient.family)] == ["Ek, Bo", "Ojala, Kaarina"]
    assert {order.number: order.patient.record_number for order in Order.select()} == {
        "A-1001": "40031977",
        "A-1002": "40031977",
        "A-2001": "40031985",
    }
    assert {now.state for now in OrderNow.select()} == {"pending"}


def test_times_are_kept_as_utc_text_that_sorts():
    take(row(due_from="2026-11-25T05:00+01:00"))

    assert Order.get().due_from == "2026-11-25T04:00:00.000Z"


def test_one_bad_cell_keeps_everything_out():
    before = everything_kept()

    with pytest.raises(FileRefused):
        take(KAARINA, row(order="A-1002", sex="F"), BO)

    assert everything_kept() == before


def test_the_same_file_twice_changes_nothing():
    take(KAARINA, BO)
    before = everything_kept()

    again = take(KAARINA, BO)

    assert (again.batch, again.new, again.known) == (None, 0, 2)
    assert everything_kept() == before


def test_known_orders_in_another_file_are_not_doubled():
    take(KAARINA)

    taken = take(KAARINA, BO)

    assert (taken.new, taken.known) == (1, 1)
    assert Order.select().count() == 2


def test_an_old_file_sent_again_does_not_move_the_patient_back():
    take(row(bed="B"))
    take(row(bed="C"))
    take(row(bed="B"))

    assert Patient.get().bed == "C"


def test_a_cancelled_order_stays_cancelled_when_it_is_sent_again():
    take(KAARINA)
    Order.update(cancelled_at="2026-11-25T03:40:00.000Z").execute()

    take(KAARINA, BO)

    assert Order.get(Order.number == "A-1001").cancelled_at == "2026-11-25T03:40:00.000Z"


def test_a_fault_while_keeping_leaves_nothing_behind():
    take(BO)
    before = everything_kept()
    db.execute_sql("CREATE TRIGGER full BEFORE INSERT ON \"order\" BEGIN SELECT RAISE(ABORT, 'disk is full'); END")

    with pytest.raises(Exception, match="disk is full"):
        take(KAARINA)

    assert everything_kept() == before


def test_new_orders_reach_the_packets():
    with writing():
        before = house().revision

    take(KAARINA)

    assert house().revision == before + 1


def test_taking_in_is_written_down_without_any_name():
    take(KAARINA)

    last = audit.head()
    assert (last.action, last.object, last.result) == ("orders taken in", ImportBatch.get().id, "1 new")


def test_five_thousand_orders_come_in_at_once():
    rows = [row(order=f"A-{n}", record_number=f"R-{n % 400}", family=f"F{n % 400}") for n in range(5000)]

    assert take(*rows).new == 5000
    assert take(*rows[:-1]).known == 4999


# --- against what the house knows ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("birth_date", "1951-03-10", "1951-03-09"),
        ("family", "Ojanen", "Ojala, Kaarina"),
        ("given", "Kaisa", "Ojala, Kaarina"),
    ],
)
def test_a_record_number_of_somebody_else_is_refused(column, cell, said):
    take(KAARINA)

    with pytest.raises(FileRefused) as refused:
        take(BO, row(**{"order": "A-1002", column: cell}))

    (trouble,) = refused.value.troubles
    assert trouble.line == 3
    assert said in trouble.says


def test_orders_for_a_known_person_join_that_person():
    take(KAARINA)

    taken = take(row(order="A-1002", test="58410-2"))

    assert (taken.patients_new, taken.new) == (0, 1)
    assert Patient.select().count() == 1


def test_a_known_name_without_its_accents_joins_and_keeps_its_spelling():
    take(row(family="Łuczak", given="Zoë"))

    take(row(order="A-1002", family="LUCZAK", given="Zoe"))

    assert Patient.get().name == "Łuczak, Zoë"


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("test", "58410-2"),
        ("priority", "stat"),
        ("due_to", "2026-11-25T08:00Z"),
        ("note", "please"),
        ("collect_by", "nurse"),
    ],
)
def test_a_known_order_number_with_another_content_is_refused(column, cell):
    take(KAARINA)

    with pytest.raises(FileRefused) as refused:
        take(row(**{column: cell}))

    assert [(trouble.line, trouble.column) for trouble in refused.value.troubles] == [(2, "order")]


def test_a_patient_who_moved_is_looked_for_in_the_new_bed():
    take(KAARINA)

    taken = take(row(order="A-1002", ward="6", room="2", bed=""))

    kaarina = Patient.get()
    assert (kaarina.ward.name, kaarina.room, kaarina.bed) == ("6", "2", "")
    assert taken.patients_changed == 1


def test_an_empty_cell_takes_nothing_away_that_the_house_knows():
    take(row(restrictions="left:fistula", blood_thinner="yes", weight_kg="61", isolation="contact"))

    take(row(order="A-1002", restrictions="", blood_thinner="", weight_kg="", isolation=""))

    kaarina = Patient.get()
    assert kaarina.restrictions == [{"side": "left", "why": "fistula"}]
    assert kaarina.blood_thinner is True
    assert (kaarina.weight_kg, kaarina.isolation) == (61, "contact")


def test_none_takes_a_restriction_away():
    take(row(restrictions="right:iv", isolation="contact"))

    take(row(order="A-1002", restrictions="none", isolation="none"))

    kaarina = Patient.get()
    assert (kaarina.restrictions, kaarina.isolation) == ([], None)


def test_a_nurse_collect_order_is_kept_and_goes_on_no_round():
    taken = take(row(collect_by="nurse"), BO)

    assert taken.nurse_collect == 1
    assert [order.number for order, _ in waiting_orders(None, NOW + timedelta(hours=2))] == ["A-2001"]
    assert [order.number for order in nurse_orders(None, NOW + timedelta(hours=2))] == ["A-1001"]


def test_what_the_list_says_of_a_new_order_is_what_a_replay_says():
    take(KAARINA, BO)

    replayed = {row["order"]: row for row in order_standing.standings(order_standing.every_order())}
    assert projections.orders_now() == replayed
    assert len(replayed) == 2


def test_checking_alone_keeps_nothing_and_asks_the_house_too():
    take(KAARINA)
    before = everything_kept()

    assert check_orders(sheet(BO), at=NOW) == 1
    with pytest.raises(FileRefused, match="the house has"):
        check_orders(sheet(row(order="A-1002", birth_date="1951-03-10")), at=NOW)

    assert everything_kept() == before
