"""The house's desk: orders, people, tablets, directory, rulebook, audit record; and that no door is left open."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from bedside.clinical.rulebook import default_book
from bedside.people import accounts
from bedside.people.roles import Role, who_may_open
from bedside.records.database import connected, db, writing
from bedside.records.tables import Incident, Order, Person, Session, Tablet
from bedside.web.house_pages import clock_words
from bedside.web.limit_lines import limit_words
from tests.troubles import drop_trigger
from tests.web.a_ward import AWard, Sitting, one_of_everything

HEADER = "order,record_number,family,given,birth_date,sex,ward,room,bed,test,priority,due_from,due_to\n"
GOOD = HEADER + (
    "A1,40031977,Ojala,Kaarina,1951-03-09,female,5,14,B,24321-2,routine,2026-11-26T05:00Z,2026-11-26T07:00Z\n"
    "A2,40031978,Okoro,Ada,1960-01-02,female,5,12,A,58410-2,stat,2026-11-26T05:00Z,2026-11-26T06:00Z\n"
)
BAD = HEADER + (
    "A1,40031977,Ojala,Kaarina,1951-02-30,female,5,14,B,24321-2,routine,2026-11-26T05:00Z,2026-11-26T07:00Z\n"
    "A2,40031978,Okoro,Ada,1960-01-02,female,5,12,A,58410-2,sometime,2026-11-26T05:00Z,2026-11-26T06:00Z\n"
)
NEW = {
    "name": "Aino Virta",
    "sign_in": "aino",
    "role": "phlebotomist",
    "ward": "w-5",
    "password": "seven quiet herons wade",
}


@pytest.fixture
def ward(tmp_path: Path, engine: str) -> Iterator[AWard]:
    with AWard.opened(tmp_path / "house") as opened:
        yield opened


@pytest.fixture
def keeper(ward: AWard) -> Sitting:
    return ward.sitting(Role.KEEPER)


def send(keeper: Sitting, text: str, name: str = "morning.csv", **more: str) -> Any:
    form = {"file": (io.BytesIO(text.encode()), name), **more}
    return keeper.post("/house/orders", form, on="/house/")


def orders_kept() -> int:
    with connected():
        return Order.select().count()


# --- orders ------------------------------------------------------------------------------------------------


def test_an_orders_file_is_taken_in_and_named(keeper: Sitting) -> None:
    answer = send(keeper, GOOD)

    assert answer.status_code == 302
    assert orders_kept() == 2
    page = keeper.text("/house/")
    assert "Taken in: 2 new orders, 2 new patients." in page
    assert "morning.csv" in page
    assert "Henrik Aalto" in page


def test_the_same_file_twice_changes_nothing(keeper: Sitting) -> None:
    send(keeper, GOOD)

    send(keeper, GOOD, name="again.csv")

    page = keeper.text("/house/")
    assert "This file was taken in before. Nothing changed." in page
    assert "again.csv" not in page
    assert orders_kept() == 2


def test_every_bad_cell_is_named_and_nothing_is_taken(keeper: Sitting) -> None:
    answer = send(keeper, BAD)

    assert answer.status_code == 422
    assert "Nothing was taken in: 2 cells of the file cannot be used." in answer.text
    rows = re.findall(
        r'<td class="number">(\d+)</td><td class="digits">(\w+)</td><td class="digits cell">(.*?)</td>', answer.text
    )
    assert rows == [("2", "birth_date", "&#34;1951-02-30&#34;"), ("3", "priority", "&#34;sometime&#34;")]
    assert orders_kept() == 0


def test_checking_keeps_nothing(keeper: Sitting) -> None:
    send(keeper, GOOD, check="yes")

    assert "Checked: 2 orders could be taken in. Nothing was kept." in keeper.text("/house/")
    assert orders_kept() == 0


def test_sending_without_a_file_asks_for_one(keeper: Sitting) -> None:
    answer = keeper.post("/house/orders", {}, on="/house/")

    assert answer.status_code == 422
    assert "Choose a file first" in answer.text


def test_a_file_that_is_no_text_is_refused_in_words(keeper: Sitting) -> None:
    form = {"file": (io.BytesIO(b"\xff\xfe\x00\x00"), "picture.csv")}

    answer = keeper.post("/house/orders", form, on="/house/")

    assert answer.status_code == 422
    assert "UTF-8" in answer.text


# --- people ------------------------------------------------------------------------------------------------


def test_somebody_added_can_sign_in(ward: AWard, keeper: Sitting) -> None:
    answer = keeper.post("/house/people", NEW, on="/house/people")

    assert answer.status_code == 302
    with connected():
        person = accounts.find("aino")
        assert person is not None
        assert (person.name, person.role, person.ward_id) == ("Aino Virta", "phlebotomist", "w-5")
        assert ward.app.config["PASSWORDS"].verify(person.password_hash, NEW["password"])


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"password": "short"}, "15"),
        ({"name": " "}, "needs a name"),
        ({"role": "surgeon"}, "no role here"),
        ({"sign_in": "keeper"}, "already signs in"),
    ],
)
def test_an_account_that_will_not_do_is_refused_and_keeps_what_was_typed(
    keeper: Sitting, wrong: dict[str, str], says: str
) -> None:
    form = {**NEW, **wrong}

    answer = keeper.post("/house/people", form, on="/house/people")

    assert answer.status_code == 422
    assert says in answer.text
    assert f'value="{form["name"].strip()}"' in answer.text
    assert form["password"] not in answer.text


def test_disabling_ends_the_persons_sessions_at_once(ward: AWard, keeper: Sitting) -> None:
    nurse = ward.sitting(Role.CHARGE_NURSE)
    assert nurse.get("/ward/").status_code == 200

    keeper.post("/house/people/p-charge_nurse", {"act": "disable"}, on="/house/people")

    assert nurse.get("/ward/").status_code == 302
    assert "disabled" in keeper.text("/house/people")


def test_a_new_role_begins_with_a_new_sign_in(ward: AWard, keeper: Sitting) -> None:
    ward.sitting(Role.CHARGE_NURSE)

    keeper.post("/house/people/p-charge_nurse", {"act": "role", "role": "safety_officer"}, on="/house/people")

    with connected():
        assert Person.get_by_id("p-charge_nurse").role == "safety_officer"
        alive = Session.select().where(Session.person == "p-charge_nurse", Session.ended_at.is_null())
        assert alive.count() == 0


@pytest.mark.parametrize("form", [{"act": "disable"}, {"act": "role", "role": "phlebotomist"}])
def test_a_keeper_cannot_shut_themselves_out(keeper: Sitting, form: dict[str, str]) -> None:
    answer = keeper.post("/house/people/p-keeper", form, on="/house/people")

    assert answer.status_code == 422
    with connected():
        person = Person.get_by_id("p-keeper")
        assert (person.role, person.disabled_at) == ("keeper", None)


# --- tablets, directory, rulebook, audit -------------------------------------------------------------------


def test_each_tablet_says_when_it_was_last_heard(ward: AWard, keeper: Sitting) -> None:
    with connected(), writing():
        ward.tablet(heard=-8)
        Tablet.update(skew_ms=-125_000, top_seq=412).execute()

    page = keeper.text("/house/tablets")

    assert "One tablet has been heard." in page
    for words in ("Cart 2", "Ines Baptista", "8 min ago", "412", "125 s fast"):
        assert words in page


@pytest.mark.parametrize(
    ("skew_ms", "says"),
    [(None, "not measured yet"), (999, "right to a second"), (1000, "1 s slow"), (-1000, "1 s fast")],
)
def test_a_tablets_clock_is_told_in_words(skew_ms: int | None, says: str) -> None:
    assert clock_words(skew_ms) == says


def test_the_directory_names_each_test_with_its_source(keeper: Sitting) -> None:
    page = keeper.text("/house/directory")

    assert "Complete blood count" in page
    assert "58410-2" in page
    assert "The built-in directory, mostly from memory" in page


def test_the_directory_shows_the_sizes_for_adults_and_children_and_what_is_kept_apart(keeper: Sitting) -> None:
    page = keeper.text("/house/directory")

    assert re.search(
        r"<b>EDTA</b></td><td class=\"number\">0.5 mL</td><td class=\"number\">0.25 mL</td><td>children", page
    )
    assert re.search(
        r"<b>EDTA</b></td><td class=\"number\">3 mL</td><td class=\"number\">1.5 mL</td><td>everybody", page
    )
    assert "Beside ice, 37 °C and blood group nothing is kept apart" in page


def test_every_limit_and_every_finding_is_on_the_rule_sheet(keeper: Sitting) -> None:
    page = keeper.text("/house/rulebook")
    book = default_book()

    rows = re.findall(r"<tr><td><b>(.*?)</b></td><td class=\"number\">(.*?)</td><td>(.*?)</td>", page)
    assert len(rows) == len(book.limits)
    assert ("Tourniquet, at most", "60", "s") in rows
    assert {*re.findall(r'<td class="digits">([a-z-]+)</td><td class="severity">', page)} == set(book.findings)
    assert book.hash in page
    assert all(limit.source in unescape(page) for limit in book.limits.values())


def test_the_unsigned_edition_says_so(keeper: Sitting) -> None:
    assert "Nobody at this site has signed it yet." in keeper.text("/house/rulebook")


@pytest.mark.parametrize(
    ("name", "unit", "says"),
    [
        ("tourniquet_max_s", "s", "Tourniquet, at most"),
        ("identity_kinds_min", "identifiers", "Identity kinds, at least"),
        ("timed_draw_slack_min", "min either way", "Timed draw slack"),
        ("citrate_fill_min_percent", "% of nominal volume", "Citrate fill, at least"),
    ],
)
def test_a_limits_name_reads_without_its_unit(name: str, unit: str, says: str) -> None:
    assert limit_words(name, unit) == says


def test_a_whole_audit_record_holds(ward: AWard, keeper: Sitting) -> None:
    keeper.post("/house/people", NEW, on="/house/people")

    page = keeper.text("/house/audit")

    assert "The audit record holds, from first to last." in page
    assert "person added" in page


def test_T_audit_a_changed_audit_line_is_found_and_named(keeper: Sitting) -> None:
    keeper.post("/house/people", NEW, on="/house/people")
    with connected(), writing():
        drop_trigger("audit_refuses_update")
        db.execute_sql("UPDATE audit SET who = 'somebody else' WHERE seq = 2")

    page = keeper.text("/house/audit")

    assert "The audit record does not hold." in page
    assert "entry 2 of the audit record was changed after it was written" in page


# --- doors -------------------------------------------------------------------------------------------------

DESKS = ("charge_nurse", "safety_officer", "house")


def test_every_door_of_every_desk_opens_for_its_roles_alone(ward: AWard) -> None:
    made = one_of_everything(ward)
    with connected():
        visit = Incident.get_by_id(made["fainted"]).visit_id
    filled = {
        "patient": made["sena"],
        "incident": made["fainted"],
        "visit": visit,
        "person": "p-charge_nurse",
        "aside": made["aside"],
    }
    sittings = {role: ward.sitting(role) for role in Role}
    walked = 0

    for rule in ward.app.url_map.iter_rules():
        if rule.endpoint.partition(".")[0] not in DESKS or "GET" not in rule.methods:
            continue
        path = re.sub(r"<(?:\w+:)?(\w+)>", lambda found: filled[found[1]], rule.rule)
        for role, sitting in sittings.items():
            wanted = 200 if role in who_may_open(rule.endpoint) else 403
            assert sitting.get(path).status_code == wanted, (path, role)
            walked += 1
        assert Sitting(ward.app.test_client()).get(path).status_code == 302, path

    assert walked == 4 * 11


@pytest.mark.parametrize("role", list(Role))
def test_the_head_of_a_page_links_only_where_its_reader_may_go(ward: AWard, role: Role) -> None:
    sitting = ward.sitting(role)
    page = sitting.text("/house/rulebook")

    links = re.findall(r'<a href="(/[^"]*)"', page.split("</header>")[0])

    assert len(links) >= 3
    assert {sitting.get(link).status_code for link in links} == {200}
