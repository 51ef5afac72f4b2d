"""The demo's ward: it fills through the front doors, and everybody who should be in it is there for their reason."""

from __future__ import annotations

import csv
import http.client
import io
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import zxingcpp

from bedside.__main__ import main
from bedside.clinical.rulebook import default_book
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import Plan, plan_tubes
from bedside.commands.demo import find_place, zone_of_this_machine
from bedside.demo import dated, demo_settings, fill, morning_at, read_seed, welcome
from bedside.exchange.directory_file import built_in_directory
from bedside.labels.band import band_text, read_band
from bedside.labels.barcode import is_specimen_number
from bedside.people import accounts
from bedside.people.passwords import Passwords
from bedside.people.roles import Role
from bedside.records.database import connected
from bedside.records.house import read_keys
from bedside.records.tables import Order, Patient, Person
from bedside.settings import Settings
from bedside.sync.packet import fetch
from tests.labels.raster import picture_of_bars

AT = datetime(2026, 11, 25, 4, 41, 17, tzinfo=UTC)
SEED = read_seed()


@pytest.fixture(scope="module")
def ward(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Settings]:
    settings = demo_settings(tmp_path_factory.mktemp("demo"), "UTC")
    fill(settings, AT)
    with connected():
        yield settings


def patient(family: str) -> Patient:
    return Patient.get(Patient.family == family)


def orders(family: str) -> list[Order]:
    return list(Order.select().where(Order.patient == patient(family)).order_by(Order.number))


def codes(family: str) -> set[str]:
    return {order.test for order in orders(family)}


def plan(family: str) -> Plan:
    who = patient(family)
    measures = Measures(
        birth_date=date.fromisoformat(who.birth_date),
        sex=who.sex,
        weight_kg=who.weight_kg,
        height_m=who.height_m,
        hematocrit_percent=who.hematocrit_percent,
    )
    asked = tuple(order.test for order in orders(family))
    return plan_tubes(TubeRequest(patient=measures, tests=asked, now=AT), built_in_directory(), default_book())


# --- filling ------------------------------------------------------------------------------------------


def test_the_ward_fills_and_everybody_can_sign_in(ward):
    keys = read_keys(ward.home)
    passwords = Passwords.costing(pepper=keys.pepper, passes=ward.password_passes, memory_kib=ward.password_memory_kib)

    assert Patient.select().count() == 16
    assert Order.select().count() == 28
    for one in SEED.people:
        assert accounts.sign_in(
            name=one.sign_in, password=one.passphrase, address="127.0.0.1", passwords=passwords, at=AT
        )


def test_every_role_has_somebody_and_two_draw_blood(ward):
    roles = sorted(person.role for person in Person.select())

    assert roles == sorted([*Role, Role.PHLEBOTOMIST])


def test_passphrases_are_long_enough_and_easily_typed():
    assert all(re.fullmatch(r"[a-z]+( [a-z]+){2,}", one.passphrase) for one in SEED.people)
    assert all(len(one.passphrase) >= 15 for one in SEED.people)


def test_the_morning_begins_at_the_last_full_quarter():
    assert morning_at(AT) == datetime(2026, 11, 25, 4, 30, tzinfo=UTC)
    assert morning_at(datetime(2026, 11, 25, 4, 45, tzinfo=UTC)) == datetime(2026, 11, 25, 4, 45, tzinfo=UTC)


def test_times_count_from_the_morning_and_nothing_else_is_touched():
    morning = datetime(2026, 11, 25, 0, 15, tzinfo=UTC)

    assert dated("a,T-00:30,T+03:00,b\n", morning) == ("a,2026-11-24T23:45+00:00,2026-11-25T03:15+00:00,b\n")
    assert dated("a,T,To T+01:00 see,b\n", morning) == "a,T,To T+01:00 see,b\n"


# --- one reason each ----------------------------------------------------------------------------------


def test_haruto_is_stat(ward):
    assert {order.priority for order in orders("Nakagawa")} == {"stat"}


def test_joaquim_has_a_timed_level_before_his_next_dose(ward):
    trough = next(order for order in orders("Silva Marques") if order.test == "4092-3")

    assert trough.due_from < trough.due_to <= trough.dose_at
    assert trough.due_from == "2026-11-25T04:40:00.000Z"
    assert built_in_directory().find("4092-3").timing == "trough"


def test_kaarina_has_a_fistula(ward):
    assert patient("Ojala").restrictions == [{"side": "left", "why": "fistula"}]


def test_agron_takes_a_blood_thinner(ward):
    assert patient("Dervishi").blood_thinner is True


def test_karen_and_karin_sound_alike_and_are_two_people(ward):
    karen, karin = patient("Hanssen"), patient("Hansen")

    assert karen.birth_date != karin.birth_date
    assert karen.birth_date[4:] == karin.birth_date[4:]
    assert (karen.room, karin.room) == ("3", "3")


def test_noor_is_small_and_her_draw_is_limited(ward):
    planned = plan("Achterberg")

    assert patient("Achterberg").weight_kg == 11.5
    assert planned.limit_ml is not None
    assert planned.total_ml <= planned.limit_ml


def test_etienne_has_a_culture_set_drawn_first(ward):
    assert [tube.kind for tube in plan("Moreau").tubes] == ["culture-aerobic", "culture-anaerobic", "edta"]


def test_lucia_needs_ice(ward):
    assert any("ice" in tube.handling for tube in plan("Ferreira").tubes)


def test_bridget_has_a_blood_group_among_her_orders(ward):
    assert "edta-crossmatch" in {tube.kind for tube in plan("Kavanagh").tubes}


def test_deniz_is_allergic_to_latex(ward):
    assert patient("Yılmaz").latex_allergy is True


def test_samira_is_isolated(ward):
    assert [one.family for one in Patient.select().where(Patient.isolation.is_null(False))] == ["Al-Haddad"]


def test_astrid_is_for_a_nurse_to_collect(ward):
    assert {order.patient.family for order in Order.select().where(Order.collect_by == "nurse")} == {"Thorsen"}


def test_a_tube_plan_is_made_for_everybody(ward):
    for one in Patient.select():
        planned = plan(one.family)

        assert {test.loinc for tube in planned.tubes for test in tube.tests} == codes(one.family)


# --- the packet ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def packet(ward: Settings) -> dict[str, Any]:
    ines = Person.get(Person.sign_in == "ines")
    return json.loads(fetch(ines.id, ward=ines.ward_id, holder="a-tablet", settings=ward, at=AT))


def carried(packet: dict[str, Any], family: str) -> dict[str, Any]:
    return next(one for one in packet["visits"] if one["patient"]["name"].startswith(f"{family},"))


def test_a_round_takes_out_everybody_but_the_nurses_patient(ward, packet):
    assert len(packet["visits"]) == 15
    assert [one["name"] for one in packet["nurse_collect"]] == ["Thorsen, Astrid"]


def test_haruto_is_first_joaquims_level_next_and_samira_last(packet):
    walked = [one["patient"]["name"] for one in packet["visits"]]

    assert walked[:2] == ["Nakagawa, Haruto", "Silva Marques, Joaquim"]
    assert walked[-1] == "Al-Haddad, Samira"


def test_karen_and_karin_warn_of_each_other(packet):
    karen, karin = carried(packet, "Hanssen"), carried(packet, "Hansen")

    assert karin["id"] in karen["names_alike"]
    assert karen["id"] in karin["names_alike"]


def test_every_tube_has_a_label_that_reads_back_as_its_own_number(packet):
    tubes = [tube for visit in packet["visits"] for tube in visit["tubes"]]
    read = [label_text(tube["label"]) for tube in [*tubes, *packet["spares"]]]

    assert len(tubes) >= 20
    assert read == [tube["specimen"] for tube in [*tubes, *packet["spares"]]]
    assert len(set(read)) == len(read)
    assert all(is_specimen_number(text) for text in read)


def label_text(label: dict[str, Any]) -> str:
    """What other people's reader reads from a label's bars."""
    bars = label["bars"]
    picture = picture_of_bars(bars["modules"], bars["module"], dots_per_mm=8.0)
    (found,) = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.Code128)
    return found.text


# --- the story ----------------------------------------------------------------------------------------


def bands_sheet() -> dict[str, str]:
    """What the story says stands on each bed's band."""
    sheet = SEED.story.partition("## What they say")[2]
    cells = [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in sheet.splitlines()]
    return {bed: band.strip("`").replace("\\|", "|") for bed, _, band in (row for row in cells if len(row) == 3)}


def test_the_bands_sheet_says_what_the_orders_say(ward):
    told = bands_sheet()
    # Stanisław has no band; that is his reason to be here.
    for one in Patient.select().where(Patient.family != "Kowalczyk"):
        written = band_text(one.record_number, date.fromisoformat(one.birth_date))

        assert told[f"{one.room} {one.bed}"] == written
        assert read_band(written).identifiers == 2
    assert told["4 B"] == "no band"


def test_the_story_names_every_patient_in_their_bed(ward):
    reasons = SEED.story.partition("## What they say")[0]

    for one in Patient.select():
        assert f"| {one.room} {one.bed} | {one.given} {one.family} |" in reasons


def test_what_the_patients_say_is_who_they_are(ward):
    said = SEED.story.partition("## What they say")[2]

    for one in Patient.select().where(Patient.family != "Lindqvist"):
        born = date.fromisoformat(one.birth_date)
        assert f"{one.given} {one.family}, {born.day} {born:%B} {born.year}." in said


def test_the_terminal_tells_whom_to_sign_in_as_and_whom_to_begin_with():
    told = welcome(SEED)
    haruto = next(row for row in csv.DictReader(io.StringIO(SEED.orders)) if row["family"] == "Nakagawa")

    assert all(one.sign_in in told and one.passphrase in told for one in SEED.people)
    assert f"{haruto['record_number']}|{haruto['birth_date']}" in told
    assert len(told.splitlines()) < 20
    assert all(len(line) < 100 for line in told.splitlines())


# --- the command --------------------------------------------------------------------------------------


def test_the_story_can_be_read_without_serving_anything(capsys):
    assert main(["demo", "--story"]) == 0
    assert capsys.readouterr().out == SEED.story


@pytest.mark.parametrize(
    ("link", "zone"),
    [
        ("zoneinfo/Europe/Lisbon", "Europe/Lisbon"),
        ("zoneinfo/UTC", "UTC"),
        ("elsewhere", "UTC"),
    ],
)
def test_the_ward_shows_this_machines_clock(link, zone, tmp_path):
    target = tmp_path / link
    target.parent.mkdir(parents=True, exist_ok=True)
    target.touch()
    (tmp_path / "localtime").symlink_to(target)

    assert zone_of_this_machine(tmp_path / "localtime") == zone


def test_a_port_that_is_taken_is_named(capsys):
    with find_place(0) as taken:
        port = taken.getsockname()[1]

        assert main(["demo", "--port", str(port)]) == 1
    assert str(port) in capsys.readouterr().err


@pytest.mark.parametrize("port", ["65536", "-1", "http", "8 0"])
def test_a_port_that_cannot_be_is_named(port, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["demo", "--port", port])

    assert ended.value.code == 2
    assert "65535" in capsys.readouterr().err


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], str, Path]]:
    """`bedside demo` as a person starts it, with its temporary folder where the test can see it."""
    place = {**os.environ, "TMPDIR": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", "bedside", "demo", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=place,
    )
    try:
        yield process, process.stdout.readline().strip(), tmp_path
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=30)


def test_the_demo_says_where_it_is_serves_and_leaves_nothing_behind(served):
    process, address, place = served
    port = int(re.fullmatch(r"http://127\.0\.0\.1:(\d+)/", address).group(1))

    # The socket listens before the ward is full, so the answer comes when it can.
    door = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    door.request("GET", "/sign-in")
    answer = door.getresponse()
    page = answer.read().decode()
    door.close()

    assert answer.status == 200
    assert SEED.site in page
    assert list(place.glob("bedside-demo-*/bedside.db"))

    process.send_signal(signal.SIGTERM)
    rest, _ = process.communicate(timeout=30)
    assert welcome(SEED) in rest
    assert "Traceback" not in rest
    assert process.returncode == 0
    assert list(place.glob("bedside-demo-*")) == []
