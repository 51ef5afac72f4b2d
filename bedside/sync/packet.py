"""Packets out: what a tablet carries on a round, replaced whole by revision.

One packet id for a round's whole life. A tube keeps its specimen number through every revision; numbers
are handed out once and never stand in two packets.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import date, datetime, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from bedside.clinical.directory import Directory
from bedside.clinical.good_until import good_until
from bedside.clinical.windows import OrderWindow
from bedside.exchange.directory_file import built_in_directory
from bedside.labels.content import LabelContent
from bedside.labels.layout import DoesNotFit, lay_out
from bedside.records import packet_rows, rounds_open
from bedside.records.database import writing
from bedside.records.directory_now import directory_now, lacking_sentences, signed_now
from bedside.records.house import house
from bedside.records.moments import as_text
from bedside.records.packet_rows import Carried
from bedside.records.tables import Order, Patient, Person, Round, Tube
from bedside.records.tablets import note_carrying
from bedside.rounds.packing import PRIORITIES
from bedside.rounds.similar_names import Named, alike_pairs
from bedside.rounds.taking_out import Tools, packet_of, take_out, until
from bedside.settings import Settings
from bedside.sync.books import book_in_force
from bedside.sync.self_test import self_test_of
from bedside.sync.standing import catch_up
from bedside.sync.supplies_told import supplies_told
from bedside.sync.volume_told import volume_told

SCHEMA = 1

SPARES = 10
"""Spare numbers a tablet carries for tubes nobody planned."""

PRACTICE_MODE = (
    "Practice mode: this tablet is not enrolled, and what it carries is not sealed. Use invented patients only.",
    "Practice mode: records are taken in under the person who is signed in when they arrive.",
)
"""Said wherever the round is not fetched by an enrolled tablet."""

Row = dict[str, Any]


def fetch(
    person: str, *, ward: str | None, holder: str, settings: Settings, at: datetime, is_enrolled: bool = False
) -> bytes:
    """The person's packet as it leaves, taking out a round first where there is none.

    holder: who carries it (a tablet, or a session): spares are handed out to one holder alone. is_enrolled: the holder
    is an enrolled tablet, which seals what it carries.
    """
    tools = tools_now(ZoneInfo(settings.zone))
    with writing():
        catch_up(at)
        out = take_out(person, ward, tools, at)
        spares = _spares(out.id, holder, at)
        carried = packet_rows.carried(out, at)
        made_at = packet_rows.first_made_at(packet_of(out.id), house().revision) or as_text(at)
        packet = build(carried, out, spares, tools, settings, at, made_at)
        if is_enrolled:
            packet["practice_mode"] = []
            note_carrying(holder, packet["until"])
        body = json.dumps(packet, ensure_ascii=False, separators=(",", ":")).encode()
        _note(packet, out, body)
    return body


def tools_now(zone: tzinfo) -> Tools:
    """The directory and the rules in force, and the zone of the ward's clocks."""
    return Tools(directory=directory_now() or built_in_directory(), book=book_in_force(), zone=zone)


def build(
    carried: Carried,
    out: Round,
    spares: Iterable[str],
    tools: Tools,
    settings: Settings,
    at: datetime,
    made_at: str,
) -> Row:
    """The whole packet as JSON values."""
    visits = [_visit(one, tools, at) for one in carried.visits if one.has_begun or one.orders]
    _compare_names(carried, visits)
    return {
        "id": packet_of(out.id),
        "house": house().id,
        "schema": SCHEMA,
        "revision": house().revision,
        "made_at": made_at,
        "until": until(out),
        "zone": settings.zone,
        "site": settings.site,
        "practice_mode": list(PRACTICE_MODE),
        "by": carried.person,
        "people": {person.id: _person(person) for person in carried.people},
        "round": {"id": out.id, "name": out.name},
        "rulebook": tools.book.text,
        "rulebook_hash": tools.book.hash,
        "self_test": self_test_of(tools.book),
        "directory": _directory(carried, tools.directory),
        "spares": [{"specimen": number, "label": _label_json(LabelContent.spare(number))} for number in spares],
        "visits": visits,
        "supplies": supplies_told(carried.visits, tools.book),
        "nurse_collect": [_nurse(order, tools.directory) for order in carried.nurse_orders],
    }


def _visit(one: packet_rows.VisitCarried, tools: Tools, at: datetime) -> Row:
    directory = tools.directory
    places = _places(one, directory)
    windows = tools.windows(one.orders)
    in_place = sorted(one.orders, key=lambda order: places[order.test])
    orders = [_order(order, windows[order.id], directory) for order in in_place]
    patient = one.patient
    return {
        "id": one.id,
        "position": one.position,
        "ward": patient.ward.name,
        "room": patient.room,
        "bed": patient.bed,
        "patient": _patient(patient, one.given.day_ml),
        "limits": {"max_draw_ml": one.max_draw_ml},
        "volume": volume_told(one, directory, tools.book, at),
        "needle": one.needle,
        "priority": min((order["priority"] for order in orders), key=PRIORITIES.index, default="routine"),
        "due_from": max((order["due_from"] for order in orders), default=None),
        "due_to": min((order["due_to"] for order in orders), default=None),
        "isolation": patient.isolation,
        "notes": _notes(one, directory),
        "names_alike": [],
        "orders": orders,
        "tubes": [_tube(tube, patient, places, directory) for tube in one.tubes],
        "plan_findings": one.plan_findings,
        "begun": one.begun,
        "ended": one.ended,
    }


def _patient(patient: Patient, drawn_ml: float) -> Row:
    return {
        "id": patient.id,
        "name": patient.name,
        "birth_date": patient.birth_date,
        "record_number": patient.record_number,
        "sex": patient.sex,
        "weight_kg": patient.weight_kg,
        "height_m": patient.height_m,
        "language": patient.language,
        "blood_thinner": patient.blood_thinner,
        "latex_allergy": patient.latex_allergy,
        "restrictions": patient.restrictions,
        "permissions": patient.permissions,
        "drawn_24h_ml": drawn_ml,
    }


def _order(order: Order, when: OrderWindow, directory: Directory) -> Row:
    return {
        "id": order.id,
        "test": order.test,
        "name": _name(order.test, directory),
        "in_directory": directory.find(order.test) is not None,
        "priority": order.priority,
        "due_from": as_text(when.window.earliest),
        "due_to": as_text(when.window.latest),
        "window": _window(order, when),
        "note": order.note,
    }


def _window(order: Order, when: OrderWindow) -> Row:
    """The window that counts, what it follows, what was asked for, and the dose it goes by, if any; `lacks` says what
    would make it narrower.
    """
    return {
        "follows": when.follows,
        "why": when.why,
        "is_level": when.is_level,
        "from": as_text(when.window.earliest),
        "aim": as_text(when.window.aim),
        "to": as_text(when.window.latest),
        "lacks": when.lacks,
        "asked_from": order.due_from,
        "asked_to": order.due_to,
        "dose_at": order.dose_at,
        "infusion_end_at": order.infusion_end_at,
    }


def _places(one: packet_rows.VisitCarried, directory: Directory) -> dict[str, tuple[int, int, str]]:
    """Where each test stands in lists and on labels: the most pressing first, then as the directory has them."""
    pressing: dict[str, int] = {}
    for order in one.orders:
        pressing[order.test] = min(pressing.get(order.test, len(PRIORITIES)), PRIORITIES.index(order.priority))
    codes = {*pressing, *(code for tube in one.tubes for code in tube.tests)}
    return {code: (pressing.get(code, len(PRIORITIES)), _place(code, directory), code) for code in codes}


def _place(code: str, directory: Directory) -> int:
    place = directory.place(code)
    return len(directory.tests) if place is None else place


def _tube(tube: Tube, patient: Patient, places: dict[str, tuple[int, int, str]], directory: Directory) -> Row:
    codes = sorted(tube.tests, key=places.__getitem__)
    tests = [directory.find(code) for code in codes]
    good = good_until(tube.kind, [test for test in tests if test], tube.handling, book_in_force().limits)
    return {
        "id": tube.id,
        "kind": tube.kind,
        "specimen": tube.specimen,
        "nominal_ml": tube.nominal_ml,
        "draw_ml": tube.draw_ml,
        "tests": codes,
        "names": [_name(code, directory) for code in codes],
        "position": tube.position,
        "inversions": tube.inversions,
        "handling": tube.handling,
        # Minutes count from the draw, which has not happened; the tablet adds them to the moment of filling.
        "in_lab_by": None,
        "in_lab_min": good.in_lab_within_min(),
        "good": good.as_json(),
        "label": _label(tube, codes, patient, directory),
    }


def _label(tube: Tube, codes: list[str], patient: Patient, directory: Directory) -> Row | None:
    """The label laid out; None where an identifier would not fit, so that nobody prints half of one."""
    content = LabelContent(
        name=patient.name,
        record_number=patient.record_number,
        birth_date=date.fromisoformat(patient.birth_date),
        specimen=tube.specimen,
        tube=book_in_force().containers[tube.kind].name,
        tests=tuple(_short(code, directory) for code in codes),
        language=patient.language or "",
    )
    try:
        return _label_json(content)
    except DoesNotFit:
        return None


def _label_json(content: LabelContent) -> Row:
    return lay_out(content).as_json()


def _notes(one: packet_rows.VisitCarried, directory: Directory) -> list[str]:
    notes = list(dict.fromkeys(order.note for order in one.orders if order.note))
    notes += [f"Flagged: {order.flag_note}" for order in one.orders if order.flagged_at and order.flag_note]
    notes += lacking_sentences(directory, (order.test for order in one.orders))
    return notes


def _compare_names(carried: Carried, visits: list[Row]) -> None:
    """Warn of similar names: the visits of the round by id, others on the ward by name."""
    by_patient: dict[str, list[Row]] = {}
    for visit in visits:
        by_patient.setdefault(visit["patient"]["id"], []).append(visit)
    people = {one.id: one for one in carried.ward_people}
    alike = alike_pairs(Named(key=one.id, family=one.family, given=one.given) for one in people.values())
    for patient, mine in by_patient.items():
        for other in alike.get(patient, ()):
            there = [visit["id"] for visit in by_patient.get(other, ())]
            for visit in mine:
                visit["names_alike"] += there
                if not there:
                    visit["notes"].append(f"Similar name on the ward: {people[other].name}.")


def _directory(carried: Carried, directory: Directory) -> Row:
    codes = {order.test for one in carried.visits for order in one.orders}
    codes |= {code for one in carried.visits for tube in one.tubes for code in tube.tests}
    known = {code: test for code in sorted(codes) if (test := directory.find(code))}
    tests = {code: {"name": test.name, "short": test.short or test.name} for code, test in known.items()}
    signed = signed_now()
    return {
        "version": directory.version,
        "signed_by": signed.signer if signed else None,
        "signed_at": signed.at if signed else None,
        "tests": tests,
        "sizes": _sizes(carried, directory),
        "keeps_apart": [kept.fact for kept in directory.keeps_apart],
    }


def _sizes(carried: Carried, directory: Directory) -> dict[str, list[Row]]:
    """The laboratory's sizes of every kind that is carried: what a container holds, takes at least, and for whom."""
    kinds = {tube.kind for one in carried.visits for tube in one.tubes}
    return {
        kind: [
            {"nominal_ml": size.nominal_ml, "min_fill_ml": size.min_fill_ml, "for": size.for_whom}
            for size in directory.sizes
            if size.kind == kind
        ]
        for kind in sorted(kinds)
    }


def _nurse(order: Order, directory: Directory) -> Row:
    patient = order.patient
    return {
        "ward": patient.ward.name,
        "room": patient.room,
        "bed": patient.bed,
        "name": patient.name,
        "tests": [_name(order.test, directory)],
        "why": order.note or "nurse collect",
    }


def _person(person: Person) -> Row:
    words = person.name.split()
    short = f"{words[0]} {words[-1][0]}." if len(words) > 1 else person.name
    initials = "".join(word[0] for word in words).upper()[:3]
    return {"name": person.name, "short": short, "initials": initials, "role": person.role}


def _name(code: str, directory: Directory) -> str:
    test = directory.find(code)
    return test.name if test else code


def _short(code: str, directory: Directory) -> str:
    test = directory.find(code)
    return (test.short or test.name) if test else code


def _spares(round_id: str, holder: str, at: datetime) -> list[str]:
    """The spare numbers of one tablet, made up to the full count again."""
    packet = packet_of(round_id)
    left = rounds_open.spares_of(packet, holder, round_id)
    missing = max(SPARES - len(left), 0)
    return left + rounds_open.hand_out_numbers(missing, packet=packet, at=at, holder=holder, spare=True)


def _note(packet: Row, out: Round, body: bytes) -> None:
    packet_rows.note_fetched(
        packet=packet["id"],
        round_id=out.id,
        person=packet["by"],
        revision=packet["revision"],
        made_at=packet["made_at"],
        until=packet["until"],
        digest="sha256:" + hashlib.sha256(body).hexdigest(),
    )
