"""The pages around the plan: blood volume, timed draws, the laboratory, the round sheet, a new directory."""

from __future__ import annotations

import html
import io
import json
import re
from datetime import timedelta
from typing import Any

import pytest

from bedside.exchange.directory_file import built_in_text
from bedside.exchange.orders_in import take_in_orders
from bedside.people.roles import Role
from bedside.records.database import connected
from bedside.records.directory_now import sign, signed_now
from bedside.records.moments import as_text, now
from bedside.records.tables import Order, Patient
from tests.a_house import BASE, AHouse, Browser, drawn, order_row, visit_of
from tests.exchange.sheet import sheet
from tests.rounds.test_sending_again import send as send_again

OURS = built_in_text().replace("edta,2,,,,,,", "edta,3,,,,,,", 1)


def patient(family: str = "Hansen") -> str:
    with connected():
        return str(Patient.get(Patient.family == family).id)


def make_child(house: AHouse, **facts: object) -> None:
    born = (now() - timedelta(days=20)).date().isoformat()
    with connected():
        Patient.update({"birth_date": born, **facts}).where(Patient.family == "Hansen").execute()


def read(browser: Browser, path: str) -> str:
    answer = browser.client.get(path, base_url=BASE)
    assert answer.status_code == 200
    return str(answer.get_data(as_text=True))


def send(browser: Browser, page: str, path: str, **fields: Any) -> Any:
    token = read(browser, page).split('name="csrf_token" value="')[1].split('"')[0]
    return browser.client.post(
        path, data={"csrf_token": token, **fields}, base_url=BASE, headers={"Referer": f"{BASE}{page}"}
    )


def drew(house: AHouse, who: str = "Kaarina") -> dict[str, Any]:
    tablet = house.tablet()
    visit = visit_of(tablet.packet(), who)
    tablet.ms = round((now() - timedelta(minutes=10)).timestamp() * 1000)
    tablet.send(drawn(tablet, visit))
    return visit


# --- blood volume -------------------------------------------------------------------------------------


def test_a_child_without_a_weight_stands_first_and_is_planned_once_it_is_entered(house: AHouse) -> None:
    make_child(house, weight_kg=None)
    nurse = house.signed_in(Role.CHARGE_NURSE)
    assert "1 child is not drawn before a weight is entered" in read(nurse, "/ward/blood/")
    assert "a child is not drawn until it is entered" in read(nurse, "/ward/")
    visit = visit_of(house.tablet().packet(), "Karin")
    assert (visit["limits"]["max_draw_ml"], [one["code"] for one in visit["plan_findings"]]) == (
        0,
        ["volume-over-limit"],
    )

    answer = send(nurse, "/ward/blood/", f"/ward/blood/{patient()}/measures", weight_kg="4,0", height_m="0.55")

    assert answer.status_code == 302
    visit = visit_of(house.tablet().packet(), "Karin")
    assert (visit["limits"]["max_draw_ml"], visit["plan_findings"]) == (3.5, [])
    assert "a child is not drawn until it is entered" not in read(nurse, "/ward/")


@pytest.mark.parametrize(
    "fields", [{"weight_kg": ""}, {"weight_kg": "4 kg"}, {"weight_kg": "4000"}, {"weight_kg": "nan"}]
)
def test_a_weight_no_body_has_is_refused_and_says_so(house: AHouse, fields: dict[str, str]) -> None:
    answer = send(house.signed_in(Role.CHARGE_NURSE), "/ward/blood/", f"/ward/blood/{patient()}/measures", **fields)

    assert answer.status_code == 422
    assert "Nothing was kept." in answer.get_data(as_text=True)


def test_who_would_give_too_much_is_named_and_a_word_with_a_reason_lets_it_go_ahead(house: AHouse) -> None:
    house.take_in([order_row("A-90", "Karin", "58410-2", "stat")])
    make_child(house, weight_kg=4.0)
    nurse = house.signed_in(Role.CHARGE_NURSE)
    page = read(nurse, "/ward/blood/")
    assert "1 patient would give more than the limit" in page
    assert 'value="4.5"' in page

    where = f"/ward/blood/{patient()}/allow"
    assert send(nurse, "/ward/blood/", where, ml="4.5", allowed_by="Dr Ada Krol", reason="").status_code == 422
    assert send(nurse, "/ward/blood/", where, ml="4.5", allowed_by="Dr Ada Krol", reason="septic").status_code == 302

    assert "4.5 mL left, allowed by Dr Ada Krol: septic" in read(nurse, "/ward/blood/")
    assert visit_of(house.tablet().packet(), "Karin")["volume"]["waits"] == []


# --- timed draws --------------------------------------------------------------------------------------


def test_a_missed_trough_is_shown_as_missed_and_a_coming_one_counts_down(house: AHouse) -> None:
    for number, who, dose in (("B-1", "Karin", -30), ("B-2", "Karen", 60), ("B-3", "Theo", 300)):
        row = order_row(number, who, "4092-3", dose_at=as_text(now() + timedelta(minutes=dose)))
        take_in_orders(sheet(row), at=now())

    page = read(house.signed_in(Role.CHARGE_NURSE), "/ward/timed/")

    assert "missed 30 min ago" in page or "missed 29 min ago" in page
    assert "open: 59 min left" in page or "open: 1 h 00 min left" in page
    assert "too early: opens in 3 h" in page
    assert page.index("missed 30 min ago" if "missed 30" in page else "missed 29") < page.index(">open:")


def test_a_level_drawn_beside_its_window_says_so_for_good(house: AHouse) -> None:
    row = order_row("B-1", "Theo", "4092-3", dose_at=as_text(now() - timedelta(minutes=40)))
    take_in_orders(sheet(row), at=now())
    tablet = house.tablet()
    visit = next(one for one in tablet.packet()["visits"] if any(order["test"] == "4092-3" for order in one["orders"]))
    tablet.ms = round((now() - timedelta(minutes=10)).timestamp() * 1000)
    tablet.send(drawn(tablet, visit))

    page = read(house.signed_in(Role.CHARGE_NURSE), "/ward/timed/")

    assert "min after its window" in page


def test_the_wards_page_counts_a_levels_own_window_down_and_says_when_it_was_missed(house: AHouse) -> None:
    for number, who, dose in (("B-1", "Karin", -30), ("B-2", "Karen", 65)):
        row = order_row(number, who, "4092-3", dose_at=as_text(now() + timedelta(minutes=dose)))
        take_in_orders(sheet(row), at=now())

    page = read(house.signed_in(Role.CHARGE_NURSE), "/ward/")

    told = re.findall(r"Vancomycin, trough: <b data-state=\"([\w-]+)\" data-countdown=\"([^\"]+)\">(.*?)</b>", page)
    assert sorted((state, says[:6]) for state, _, says in told) == [("missed", "missed"), ("open", "open: ")]
    steps = json.loads(html.unescape(told[0][1]))["steps"]
    assert [step["state"] for step in steps] == ["too-early", "open", "due", "late", "missed"]
    assert "js/pages/countdown.js" in page
    # The order itself was due later: without its own window it would not count as late.
    assert re.search(r"<tr data-state=\"late\"[^>]*>(?:(?!</tr>).)*Hansen, Karin", page, re.DOTALL)


def test_a_missed_window_is_told_after_the_level_was_cancelled_or_sent_out_again(house: AHouse) -> None:
    for number, who in (("B-1", "Karin"), ("B-2", "Theo")):
        row = order_row(number, who, "4092-3", dose_at=as_text(now() - timedelta(minutes=40)))
        take_in_orders(sheet(row), at=now())
    with connected():
        karin, theo = (Order.get(Order.number == number) for number in ("B-1", "B-2"))
    nurse = house.signed_in(Role.CHARGE_NURSE)
    where = f"/ward/patients/{karin.patient_id}"
    assert send(nurse, where, f"{where}/orders", act="cancel", order=karin.id, reason="dose given").status_code == 302
    tablet = house.tablet()
    visit = next(one for one in tablet.packet()["visits"] if any(order["id"] == theo.id for order in one["orders"]))
    gone = [
        tablet.event(kind, visit["id"], data)
        for kind, data in (("arrived", {}), ("visit_ended", {"outcome": "refused"}))
    ]
    tablet.send(gone)
    with connected():
        send_again(house, theo.id)

    page = read(nurse, "/ward/timed/")

    assert "cancelled 40 min after its window was missed" in page or "cancelled 39 min after" in page
    assert re.search(r"Sent out again: its own window, [^<]*, was missed\.", page)


def test_a_level_missed_days_ago_that_nobody_settled_still_stands_there(house: AHouse) -> None:
    dose, due = now() - timedelta(days=3), [as_text(now() - timedelta(days=3, hours=hours)) for hours in (4, 0)]
    row = order_row("B-1", "Karin", "4092-3", dose_at=as_text(dose)) | {"due_from": due[0], "due_to": due[1]}
    take_in_orders(sheet(row), at=now())

    assert "missed 3 days ago" in read(house.signed_in(Role.CHARGE_NURSE), "/ward/timed/")


def test_a_level_without_its_dose_asks_for_it(house: AHouse) -> None:
    take_in_orders(sheet(order_row("B-1", "Karin", "4092-3")), at=now())

    assert "Not known: the time of the next dose." in read(house.signed_in(Role.CHARGE_NURSE), "/ward/timed/")


# --- the laboratory -----------------------------------------------------------------------------------


def test_a_tube_on_its_way_shows_until_when_it_is_good(house: AHouse) -> None:
    drew(house)

    page = read(house.signed_in(Role.CHARGE_NURSE), "/lab/")

    assert "2 tubes are on the way." in page
    assert "spun by" in page


def test_a_refused_tube_goes_out_again_with_the_reason(house: AHouse) -> None:
    tube = drew(house)["tubes"][0]
    nurse = house.signed_in(Role.CHARGE_NURSE)
    fields = {"specimen": tube["specimen"], "reason": "RC", "said_by": "Vera Holm", "note": ""}

    assert send(nurse, "/lab/", "/lab/refused", **{**fields, "reason": ""}).status_code == 422
    assert send(nurse, "/lab/", "/lab/refused", **fields).status_code == 302

    page = read(nurse, "/lab/")
    assert "clotted (RC)" in page
    ward = read(nurse, "/ward/")
    refused = f"the laboratory refused tube {tube['specimen']}: clotted (RC)"
    again = re.findall(rf"collect again as (\S+): {re.escape(refused)}", ward)
    assert len(again) == len(tube["tests"])
    assert f"{refused}; to be collected again as {again[0]}" in ward
    with connected():
        assert Order.select().where(Order.note.startswith("Collect again")).count() == len(tube["tests"])


# --- the round on paper -------------------------------------------------------------------------------


def test_a_round_on_paper_lists_supplies_beds_and_the_saving(house: AHouse) -> None:
    house.take_in([order_row("A-91", "Karin", "2160-0")])
    house.tablet().packet()

    page = read(house.signed_in(Role.PHLEBOTOMIST), "/rounds/")

    assert "serum gel, 2.5 mL" in page
    assert "Against one container for each test this round saves 2 mL and one container." in page
    assert "isolation gear: contact" in page
    # BV-09: Thavendiranathan 2005; BV-10: Salisbury 2011
    assert "100 mL of one patient&#39;s blood take 7 g/L of haemoglobin and 1.9 points" in page
    assert "each 50 mL more went with 1.18 times the risk of anaemia (Salisbury 2011" in page


def test_a_test_the_new_directory_lacks_is_shown_on_the_sheet_and_on_the_wards_page(house: AHouse) -> None:
    house.tablet().packet()
    without = "".join(line for line in built_in_text().splitlines(keepends=True) if not line.startswith("BMP,"))
    with connected():
        sign(without, signer="Otto Lindahl", by=house.people[Role.KEEPER], at=now())
    house.tablet().packet()

    sheet_page = read(house.signed_in(Role.PHLEBOTOMIST), "/rounds/")
    ward = read(house.signed_in(Role.CHARGE_NURSE), "/ward/")

    assert "24321-2 is not in the laboratory&#39;s directory of" in sheet_page
    assert "24321-2 is not in the laboratory&#39;s directory of" in ward
    assert "Ask the laboratory which tube it needs" in ward


def test_short_stock_is_said_once_it_is_counted(house: AHouse) -> None:
    house.tablet().packet()
    keeper = house.signed_in(Role.KEEPER)

    assert send(keeper, "/rounds/", "/rounds/stock", **{"count:tube:serum-gel:2.5": "4"}).status_code == 302
    page = read(keeper, "/rounds/")
    assert "serum gel, 2.5 mL: 2 short of 6" in page
    assert re.findall(r'<span class="print-only">(.*?)</span>', page)[:3].count("4") == 1
    assert send(keeper, "/rounds/", "/rounds/stock", **{"count:care:bag": "many"}).status_code == 422


def test_without_a_round_the_sheet_says_so(house: AHouse) -> None:
    assert "No round is out." in read(house.signed_in(Role.KEEPER), "/rounds/")


# --- the directory ------------------------------------------------------------------------------------


def upload(text: str) -> tuple[io.BytesIO, str]:
    return io.BytesIO(text.encode()), "ours.csv"


def test_a_new_directory_is_compared_and_signed_by_whoever_sits_there(house: AHouse) -> None:
    keeper, versions = house.signed_in(Role.KEEPER), "/house/directory/versions"

    checked = send(keeper, f"{versions}/", f"{versions}/check", file=upload(OURS)).get_data(as_text=True)
    signed = send(
        keeper, f"{versions}/", f"{versions}/sign", text=OURS.replace("\n", "\r\n"), note="more blood for counts"
    )

    assert "<b>CBC</b>" in checked
    assert signed.status_code == 302
    with connected():
        assert signed_now().signer == "Otto Lindahl"
    assert "more blood for counts" in read(keeper, f"{versions}/")


def test_a_directory_that_lacks_a_test_somebody_waits_for_says_so_before_it_is_signed(house: AHouse) -> None:
    keeper, versions = house.signed_in(Role.KEEPER), "/house/directory/versions"
    without = "".join(line for line in built_in_text().splitlines(keepends=True) if not line.startswith("BMP,"))

    page = send(keeper, f"{versions}/", f"{versions}/check", file=upload(without)).get_data(as_text=True)

    assert "A-0 asks for 24321-2" in page


@pytest.mark.parametrize("text", ["", "no,such,columns\n", OURS.replace(",edta,", ",lavender,", 1)])
def test_a_directory_that_cannot_be_read_is_refused_by_its_cells(house: AHouse, text: str) -> None:
    keeper, versions = house.signed_in(Role.KEEPER), "/house/directory/versions"

    assert send(keeper, f"{versions}/", f"{versions}/check", file=upload(text)).status_code == 422


def test_only_a_keeper_is_offered_to_sign(house: AHouse) -> None:
    assert "sign a new version" in read(house.signed_in(Role.KEEPER), "/house/directory")
    assert "sign a new version" not in read(house.signed_in(Role.CHARGE_NURSE), "/house/directory")
