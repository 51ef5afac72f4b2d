"""The charge nurse's desk: what the ward now says, who may see it, and what can be done from it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bedside.people.roles import Role
from bedside.records.database import connected, writing
from bedside.records.tables import Audit, House, Order, OrderNow, Patient, SetAside
from bedside.web.morning_strip import Moment, draw
from bedside.web.standing import counts
from bedside.web.times import spell, window
from bedside.web.ward_page import headline
from tests.web.a_ward import LONG_NAME, AWard, Sitting, one_of_everything, worst_day

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.fixture
def ward(tmp_path: Path, engine: str) -> Iterator[AWard]:
    with AWard.opened(tmp_path / "house") as opened:
        yield opened


@pytest.fixture
def nurse(ward: AWard) -> Sitting:
    return ward.sitting(Role.CHARGE_NURSE)


def row_of(page: str, name: str) -> str:
    """The row of the corridor that names this patient, as text without tags."""
    row = next(row for row in re.findall(r"<tr data-state.*?</tr>", page, re.S) if name in row)
    return " ".join(re.sub(r"<[^>]+>", " ", row).split())


# --- who may see it, and what it says ------------------------------------------------------------------


@pytest.mark.parametrize("role", [Role.PHLEBOTOMIST, Role.SAFETY_OFFICER, Role.KEEPER])
def test_only_a_charge_nurse_sees_the_ward(ward: AWard, role: Role) -> None:
    assert ward.sitting(role).get("/ward/").status_code == 403


def test_an_empty_ward_says_so(nurse: Sitting) -> None:
    page = nurse.text("/ward/")

    assert "No draws are asked for on this ward." in page
    assert '<svg class="morning"' not in page


def test_a_house_without_any_ward_still_opens(tmp_path: Path, engine: str) -> None:
    with AWard.opened(tmp_path / "bare", with_ward=False) as bare:
        page = bare.sitting(Role.CHARGE_NURSE).text("/ward/")

    assert "No draws are asked for on this ward." in page


def test_the_headline_names_what_is_late_and_what_waits(ward: AWard, nurse: Sitting) -> None:
    one_of_everything(ward)

    page = nurse.text("/ward/")

    assert "One draw is late, six questions wait for you." in page


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("Okoro, Ada", "collected"),
        ("Lindqvist, Per", "wants to sleep"),
        ("Lindqvist, Per", "told: R. Mensah, nurse"),
        ("Ojala, Kaarina", "late"),
        ("Ojala, Kaarina", "nobody has it"),
        ("Ojala, Kaarina", "urgent: Basic metabolic panel, Complete blood count"),
        ("Ojala, Kaarina", "left arm closed, fistula or graft · blood thinner"),
        ("Ojala, Katariina", "pending"),
        ("Mbeki, Thandi", "on the way Ines Baptista has it"),
        ("Sørbye, Nils", "unable to obtain; two attempts, both arms"),
        ("Hart, June", "held in the scanner until nine"),
        (LONG_NAME[0], "at the bedside now Ines Baptista"),
        ("Dahl, Bo", "nurse collect"),
        ("Adjei, Sena", "partly collected"),
        ("Adjei, Sena", "incident: faint"),
    ],
)
def test_each_state_is_told_in_plain_words(ward: AWard, nurse: Sitting, name: str, says: str) -> None:
    one_of_everything(ward)

    assert says in row_of(nurse.text("/ward/"), name)


def test_every_state_has_a_mark_of_its_own_shape(ward: AWard, nurse: Sitting) -> None:
    one_of_everything(ward)
    page = nurse.text("/ward/")

    marks = dict(re.findall(r'<svg class="mark" data-state="([a-z-]+)" width.*?>(.*?)</svg>', page, re.S))

    assert len(marks) == 10
    assert len(set(marks.values())) == 10


def test_rooms_stand_in_walking_order(ward: AWard, nurse: Sitting) -> None:
    one_of_everything(ward)

    rooms = re.findall(r'<td class="room"><b>(\d+)</b>', nurse.text("/ward/"))

    assert rooms == ["9", "12", "14", "15", "18", "21", "22", "23", "24", "25"]


def test_who_is_out_and_when_the_tablet_was_last_heard_is_said(ward: AWard, nurse: Sitting) -> None:
    one_of_everything(ward)

    page = nurse.text("/ward/")

    assert "Ines Baptista is out since" in page
    assert "two visits to go" in page
    assert "8 min ago" in page


def test_blood_drawn_after_a_cancellation_waits_for_the_charge_nurse(ward: AWard, nurse: Sitting) -> None:
    one_of_everything(ward)

    waiting = nurse.text("/ward/").split("Waiting for you")[1].split("By room")[0]

    assert "Blood was drawn for an order that had been cancelled." in waiting
    assert "Ngata, Aroha" in waiting
    assert "tourniquet" not in waiting


def test_a_draw_settled_more_than_a_shift_ago_has_left_the_page(ward: AWard, nurse: Sitting) -> None:
    with connected(), writing():
        yesterday = ward.patient("Past, Yesterday", "3")
        ward.order(yesterday, state="collected", at=-13 * 60, due=(-15 * 60, -13 * 60))
        forgotten = ward.patient("Past, Forgotten", "4")
        ward.order(forgotten, due=(-15 * 60, -13 * 60))

    page = nurse.text("/ward/")

    assert "Past, Yesterday" not in page
    assert "late" in row_of(page, "Past, Forgotten")


def test_the_worst_day_fits_on_the_page(ward: AWard, nurse: Sitting) -> None:
    worst_day(ward)

    page = nurse.text("/ward/")

    assert "Eight draws are late, 33 questions wait for you." in page
    assert len(re.findall(r"<tr data-state", page)) == 40
    assert page.count("Something went wrong at the bedside and is not written down.") == 1


def test_a_second_ward_can_be_chosen(ward: AWard, nurse: Sitting) -> None:
    with connected(), writing():
        other = ward.another_ward("6")
        ward.order(ward.patient("Elsewhere, Emma", "1", ward=other))

    assert "Elsewhere, Emma" not in nurse.text("/ward/")
    assert "Elsewhere, Emma" in nurse.text(f"/ward/?ward={other}")


def test_markup_in_a_name_stays_text(ward: AWard, nurse: Sitting) -> None:
    with connected(), writing():
        ward.order(ward.patient("<script>alert(1)</script>, Eve", "1"))

    page = nurse.text("/ward/")

    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;, Eve" in page


@pytest.mark.parametrize("path", ["/ward/", "/ward/patients/{sena}", "/ward/set-aside"])
def test_no_page_carries_style_or_script_of_its_own(ward: AWard, nurse: Sitting, path: str) -> None:
    made = one_of_everything(ward)

    page = nurse.text(path.format(**made))

    assert " style=" not in page
    assert "<style" not in page
    assert not re.search(r"<script(?![^>]* src=)", page)
    assert not re.search(r"\son[a-z]+=", page)


def test_the_ward_page_looks_again_by_itself_also_without_scripts(nurse: Sitting) -> None:
    page = nurse.text("/ward/")

    assert 'data-refresh-every="30"' in page
    assert '<noscript><meta http-equiv="refresh" content="30;url=/ward/?refresh=1"></noscript>' in page


# --- one patient -------------------------------------------------------------------------------------------


def test_a_patients_page_tells_the_visit_in_sentences(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)

    page = nurse.text(f"/ward/patients/{made['sena']}")

    for sentence in (
        "The patient said: name Sena Adjei, born 1951-03-09.",
        "Needle in: straight, 21 gauge.",
        "Incident: faint.",
        "The tourniquet was on for more than 60 s.",
        "Visit ended, partly collected: fainted before the second tube.",
    ):
        assert sentence in page


def test_a_struck_entry_is_shown_struck_with_its_reason(ward: AWard, nurse: Sitting) -> None:
    with connected(), writing():
        patient = ward.patient("Okoro, Ada", "12")
        visit = ward.visit(patient, ward.round(), ended_at=ward.at(-1), outcome="collected")
        ward.order(patient, state="collected", visit=visit, at=-1)
        wrong = ward.event(visit, "needle_in", -5, {"kind": "winged"})
        ward.event(visit, "corrected", -4, {"event": wrong, "data": None, "reason": "tapped by mistake"})

    page = nurse.text(f"/ward/patients/{patient}")

    assert re.search(r'class="struck">Needle in: winged\..*corrected later: tapped by mistake', page)


def test_an_unknown_patient_is_not_found(nurse: Sitting) -> None:
    assert nurse.get("/ward/patients/n-nobody").status_code == 404


# --- what can be done --------------------------------------------------------------------------------------


def revision() -> int:
    with connected():
        return House.get().revision


def test_holding_an_order_needs_a_reason(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)
    page = f"/ward/patients/{made['kaarina']}"

    answer = nurse.post(f"{page}/orders", {"order": made["kaarina_order"], "act": "hold", "reason": " "}, on=page)

    assert answer.status_code == 422
    assert "needs a reason" in answer.text
    with connected():
        assert Order.get_by_id(made["kaarina_order"]).held_at is None


def test_a_held_order_is_off_the_round_and_on_the_page(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)
    page, before = f"/ward/patients/{made['kaarina']}", revision()
    form = {"order": made["kaarina_order"], "act": "hold", "reason": "dialysis at seven"}

    answer = nurse.post(f"{page}/orders", form, on=page)

    assert answer.status_code == 302
    assert "dialysis at seven" in nurse.text(page)
    assert revision() > before
    with connected():
        assert OrderNow.get(OrderNow.order == made["kaarina_order"]).state == "held"
        assert Audit.select().order_by(Audit.seq.desc()).get().action == "order held"


def test_cancelling_takes_every_chosen_order_or_none(ward: AWard, nurse: Sitting) -> None:
    with connected(), writing():
        patient = ward.patient("Okoro, Ada", "12")
        first, second = ward.order(patient), ward.order(patient, test="58410-2")
        Order.update(cancelled_at=ward.at(-1), cancel_reason="before").where(Order.id == max(first, second)).execute()
    page = f"/ward/patients/{patient}"

    answer = nurse.post(f"{page}/orders", {"order": [first, second], "act": "cancel", "reason": "twice"}, on=page)

    assert answer.status_code == 422
    with connected():
        assert Order.get_by_id(min(first, second)).cancelled_at is None


def test_an_order_of_another_patient_cannot_be_changed_from_here(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)
    page = f"/ward/patients/{made['katariina']}"

    answer = nurse.post(f"{page}/orders", {"order": made["kaarina_order"], "act": "cancel", "reason": "x"}, on=page)

    assert answer.status_code == 422
    with connected():
        assert Order.get_by_id(made["kaarina_order"]).cancelled_at is None


def test_a_note_for_the_next_visit_stands_on_the_ward_page(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)
    page = f"/ward/patients/{made['kaarina']}"

    nurse.post(f"{page}/orders", {"order": made["kaarina_order"], "act": "flag", "reason": "hard of hearing"}, on=page)

    assert "note: hard of hearing" in row_of(nurse.text("/ward/"), "Ojala, Kaarina")


def test_closing_an_arm_reaches_the_next_packet_and_the_audit_record(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)
    page, before = f"/ward/patients/{made['katariina']}", revision()

    answer = nurse.post(f"{page}/arms", {"act": "close", "side": "right", "why": "iv"}, on=page)

    assert answer.status_code == 302
    assert revision() > before
    with connected():
        assert Patient.get_by_id(made["katariina"]).restrictions == [{"side": "right", "why": "iv"}]
        assert Audit.select().order_by(Audit.seq.desc()).get().action == "arm closed"


@pytest.mark.parametrize(("side", "why"), [("middle", "iv"), ("left", ""), ("", "")])
def test_an_arm_is_not_closed_by_half_a_form(ward: AWard, nurse: Sitting, side: str, why: str) -> None:
    made = one_of_everything(ward)
    page = f"/ward/patients/{made['katariina']}"

    answer = nurse.post(f"{page}/arms", {"act": "close", "side": side, "why": why}, on=page)

    assert answer.status_code == 422
    with connected():
        assert Patient.get_by_id(made["katariina"]).restrictions == []


def test_a_form_without_its_token_changes_nothing(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)

    answer = nurse.client.post(
        f"/ward/patients/{made['kaarina']}/orders",
        data={"order": made["kaarina_order"], "act": "cancel", "reason": "forged"},
        base_url="https://localhost",
        headers={"Referer": "https://localhost/ward/"},
    )

    assert answer.status_code == 400
    with connected():
        assert Order.get_by_id(made["kaarina_order"]).cancelled_at is None


# --- records that found no place ---------------------------------------------------------------------------


def test_a_record_that_found_no_place_is_shown_with_its_reason(ward: AWard, nurse: Sitting) -> None:
    one_of_everything(ward)

    page = nurse.text("/ward/set-aside")

    assert "One record could not be placed." in page
    assert "The event names a visit that is not known here." in page
    assert "tube filled" in page


def test_settling_needs_a_note_and_keeps_it(ward: AWard, nurse: Sitting) -> None:
    made = one_of_everything(ward)
    path = f"/ward/set-aside/{made['aside']}"

    refused = nurse.post(path, {"note": "  "}, on="/ward/set-aside")
    nurse.post(path, {"note": "belongs to the practice round"}, on="/ward/set-aside")

    assert refused.status_code == 422
    page = nurse.text("/ward/set-aside")
    assert "Every record found its place." in page
    assert "by Tomas Lindqvist: belongs to the practice round" in page
    with connected():
        assert SetAside.get_by_id(made["aside"]).settled_by_id == "p-charge_nurse"


def test_what_is_settled_cannot_be_settled_again(ward: AWard, nurse: Sitting) -> None:
    with connected(), writing():
        first, second = ward.set_aside(), ward.set_aside()
    nurse.post(f"/ward/set-aside/{first}", {"note": "mine"}, on="/ward/set-aside")

    again = nurse.post(f"/ward/set-aside/{first}", {"note": "no, mine"}, on="/ward/set-aside")

    assert again.status_code == 422
    with connected():
        assert SetAside.get_by_id(first).settled_note == "mine"
        assert SetAside.get_by_id(second).settled_at is None


# --- words and pictures ------------------------------------------------------------------------------------


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"2026-11-25T{clock}:00").replace(tzinfo=LISBON)


def test_a_mark_never_crosses_the_line_now() -> None:
    now = at("05:00")
    late = [Moment(at=at("04:58"), state="late", says="late") for _ in range(30)]
    coming = [Moment(at=at("05:02"), state="to-come", says="to come") for _ in range(30)]

    strip = draw([*late, *coming], now)

    assert strip is not None
    assert all(mark.x < strip.now_x for mark in strip.marks if mark.state == "late")
    assert all(mark.x > strip.now_x for mark in strip.marks if mark.state == "to-come")


def test_no_two_marks_lie_on_each_other() -> None:
    moments = [Moment(at=at("05:30"), state="to-come", says="x") for _ in range(40)]

    strip = draw(moments, at("05:00"))

    assert strip is not None
    assert len({(mark.x, mark.y) for mark in strip.marks}) == 40


def test_the_axis_begins_and_ends_on_full_hours() -> None:
    strip = draw([Moment(at=at("04:40"), state="late", says="x")], at("05:10"))

    assert strip is not None
    assert [tick.says for tick in strip.ticks] == ["04:00", "05:00", "06:00"]


def test_no_visits_make_no_picture() -> None:
    assert draw([], at("05:00")) is None


@pytest.mark.parametrize(
    ("states", "asks", "unplaced", "says"),
    [
        ([], 0, 0, "No draws are asked for on this ward."),
        (["drawn", "refused"], 0, 0, "Every draw of this shift is settled."),
        (["to-come", "drawn"], 0, 0, "One draw is still to come, none late."),
        (["late"] * 11, 0, 0, "11 draws are late."),
        (["drawn"], 1, 0, "One question waits for you."),
        (["late", "late"], 1, 2, "Two draws are late, three questions wait for you."),
    ],
)
def test_one_sentence_says_what_comes_first(states: list[str], asks: int, unplaced: int, says: str) -> None:
    assert headline(counts(states), asks, unplaced) == says


@pytest.mark.parametrize(
    ("minutes", "says"),
    [(0, "0 min"), (59, "59 min"), (60, "1 h 00 min"), (599, "9 h 59 min"), (600, "10 h"), (2880, "2 days")],
)
def test_lengths_of_time_read_as_one_would_say_them(minutes: int, says: str) -> None:
    assert spell(timedelta(minutes=minutes)) == says


def test_a_window_over_midnight_names_both_days() -> None:
    start = datetime(2026, 11, 24, 23, 30, tzinfo=LISBON)

    assert window(start, at("01:00"), at("05:00")) == "24 Nov 23:30 to 01:00"
