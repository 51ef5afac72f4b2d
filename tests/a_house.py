"""A small invented house for tests: real database file, real app, a ward of five patients and four people.

The cast, each with one reason to exist: Kaarina has two orders at once. Karin and Karen have names alike. Bo is in
isolation. Lucia is drawn from a line by a nurse. Theo is STAT.
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import re
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from bedside.app import create_app
from bedside.exchange.orders_in import take_in_orders
from bedside.people import accounts, sessions
from bedside.people.roles import Role
from bedside.records.database import connected, writing
from bedside.records.house import make_house
from bedside.records.moments import as_text, now
from bedside.records.tables import Person
from bedside.settings import Settings
from bedside.web.guard import cookie_name
from tests.databases import DATABASES

BASE = "https://localhost"
PASSWORD = "copper kettle at the window"
MARK = {"X-Bedside": "1"}

NAMES = {
    Role.PHLEBOTOMIST: "Ines Baptista",
    Role.CHARGE_NURSE: "Maren Solberg",
    Role.SAFETY_OFFICER: "Leela Vaidyan",
    Role.KEEPER: "Otto Lindahl",
}

PATIENTS = {
    "Kaarina": {"family": "Ojala", "given": "Kaarina", "birth_date": "1951-03-09", "room": "9", "bed": "B"},
    "Karin": {"family": "Hansen", "given": "Karin", "birth_date": "1960-01-02", "room": "14", "bed": "A"},
    "Karen": {"family": "Hanssen", "given": "Karen", "birth_date": "1962-02-01", "room": "14", "bed": "B"},
    "Bo": {"family": "Ek", "given": "Bo", "birth_date": "1990-12-01", "room": "2", "bed": "A", "isolation": "contact"},
    "Lucia": {"family": "Ferreira", "given": "Lúcia", "birth_date": "1944-07-30", "room": "3", "bed": "A"},
    "Theo": {"family": "Marchetti", "given": "Theo", "birth_date": "1971-10-11", "room": "20", "bed": "A"},
}

ORDERS = (
    ("Kaarina", "24321-2", "routine"),
    ("Kaarina", "58410-2", "routine"),
    ("Karin", "24321-2", "routine"),
    ("Karen", "24321-2", "routine"),
    ("Bo", "24321-2", "routine"),
    ("Lucia", "24321-2", "routine"),
    ("Theo", "24321-2", "stat"),
)

COLUMNS = (
    "order", "record_number", "family", "given", "birth_date", "sex", "ward", "room", "bed", "test", "priority",
    "due_from", "due_to", "isolation", "collect_by",
)  # fmt: skip


def order_row(number: str, patient: str, test: str, priority: str = "routine", **other: str) -> dict[str, str]:
    """One order as a line of an orders file, due from an hour ago for four hours."""
    at = now()
    row = {
        "order": number,
        "record_number": f"4003{1900 + list(PATIENTS).index(patient)}",
        "sex": "female",
        "ward": "5",
        "test": test,
        "priority": priority,
        "due_from": as_text(at - timedelta(hours=1)),
        "due_to": as_text(at + timedelta(hours=3)),
        "isolation": "",
        "collect_by": "nurse" if patient == "Lucia" else "phlebotomist",
    }
    return {**row, **PATIENTS[patient], **other}


def orders_file(rows: list[dict[str, str]]) -> bytes:
    """An orders file of these lines."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def settings_at(home: Path) -> Settings:
    """The house's settings, with passwords that cost little, on the engine the test runs on."""
    return Settings(
        home=home,
        zone="Europe/Lisbon",
        site="Harbour Hill Hospital",
        password_passes=1,
        password_memory_kib=64,
        database_url=DATABASES.address_of(home),
    )


@dataclass
class AHouse:
    """The house, its app and its people (ids by role)."""

    settings: Settings
    app: Flask
    people: dict[str, str] = field(default_factory=dict)
    tablets: itertools.count[int] = field(default_factory=itertools.count)

    @classmethod
    def made(cls, home: Path) -> AHouse:
        """A new house, filled by the ways a real one is filled."""
        make_house(settings_at(home), now())
        house = cls(settings=settings_at(home), app=create_app(settings_at(home)))
        with connected():
            for role, name in NAMES.items():
                house.people[role] = house.add_person(str(role), name, role)
            house.take_in([order_row(f"A-{n}", *order) for n, order in enumerate(ORDERS)])
        return house

    @classmethod
    def opened(cls, home: Path) -> AHouse:
        """A house that was made before."""
        house = cls(settings=settings_at(home), app=create_app(settings_at(home)))
        with connected():
            house.people = {person.role: person.id for person in Person.select()}
        return house

    def add_person(self, sign_in: str, name: str, role: str) -> str:
        person = accounts.add_person(
            sign_in=sign_in,
            name=name,
            role=role,
            password=PASSWORD,
            passwords=self.app.config["PASSWORDS"],
            at=now(),
        )
        return str(person.id)

    def take_in(self, rows: list[dict[str, str]]) -> None:
        take_in_orders(orders_file(rows), file_name="orders.csv", at=now())

    @property
    def id(self) -> str:
        return str(self.app.config["HOUSE"])

    def browser(self) -> Browser:
        """A browser nobody has signed in on."""
        return Browser(house=self, client=self.app.test_client())

    def signed_in(self, person: str) -> Browser:
        """A browser with somebody signed in, by role or by id."""
        browser = self.browser()
        with connected(), writing():
            token = sessions.begin(Person.get_by_id(self.people.get(person, person)), now())
        browser.client.set_cookie(cookie_name(self.id), token, domain="localhost", secure=True)
        return browser

    def tablet(self, person: str = Role.PHLEBOTOMIST) -> ATablet:
        """A tablet with an empty store of its own, signed in on."""
        return ATablet(browser=self.signed_in(person), name=f"tablet-{next(self.tablets)}")


@dataclass
class Browser:
    """Asks as a browser would: over HTTPS, with the form's token and referrer."""

    house: AHouse
    client: FlaskClient

    def get(self, path: str, **how: Any) -> Any:
        return self.client.get(path, base_url=BASE, buffered=True, **how)

    def post(self, path: str, form: dict[str, str], *, on: str = "/sign-in") -> Any:
        """Send a form with the token of the page it stands on."""
        token = re.search(r'name="csrf_token" value="([^"]+)"', self.get(on).text)
        assert token is not None, f"no form on {on}"
        where = {"Referer": f"{BASE}{on}"}
        return self.client.post(path, base_url=BASE, data={"csrf_token": token[1], **form}, headers=where)

    def sign_in(self, name: str, password: str = PASSWORD, **form: str) -> Any:
        return self.post("/sign-in", {"name": name, "password": password, **form})


@dataclass
class ATablet:
    """One local store of a tablet: writes events with numbers without gaps, sends them, reads packets."""

    browser: Browser
    name: str
    seq: int = 0
    ms: int = 1_795_590_000_000  # 2026-11-25T07:00Z
    skew_ms: int = 0

    def hello(self) -> Any:
        return self.browser.get("/tablet/hello", headers=MARK)

    def fetch(self) -> Any:
        return self.browser.get(f"/tablet/packet?tablet={self.name}", headers=MARK)

    def packet(self) -> dict[str, Any]:
        answer = self.fetch()
        assert answer.status_code == 200, answer.text
        return dict(answer.get_json())

    def post(self, message: Any, **headers: str) -> Any:
        return self.browser.client.post("/tablet/events", base_url=BASE, json=message, headers={**MARK, **headers})

    def send(self, events: list[Any], **more: Any) -> list[dict[str, Any]]:
        """Send events; gives the answers."""
        message = {"house": self.browser.house.id, "tablet": self.name, "schema": 1, "events": events, **more}
        answer = self.post(message)
        assert answer.status_code == 200, answer.text
        return list(answer.get_json()["answers"])

    def event(
        self, kind: str, visit: str | None, data: Any = None, *, after_s: float = 1, **body: Any
    ) -> dict[str, Any]:
        """Something that happened, `after_s` seconds after the last thing that did."""
        self.seq += 1
        self.ms += round(after_s * 1000)
        told = {
            "visit": visit,
            "kind": kind,
            "at": as_text(datetime.fromtimestamp(self.ms / 1000, UTC)),
            "offset_min": 0,
            "server_skew_ms": self.skew_ms,
            "page": self.name,
            "mono_ms": self.ms,
            "by": "p-ines",
            "schema": 1,
            "data": {} if data is None else data,
            **body,
        }
        return {"id": str(uuid.uuid4()), "tablet": self.name, "seq": self.seq, "body": json.dumps(told)}


def visit_of(packet: dict[str, Any], patient: str) -> dict[str, Any]:
    """The packet's visit of one of the cast."""
    family = PATIENTS[patient]["family"]
    return next(visit for visit in packet["visits"] if visit["patient"]["name"].startswith(f"{family},"))


def proven(tablet: ATablet, visit: dict[str, Any]) -> list[dict[str, Any]]:
    """Arrived, and two identifiers from two sources agree with the order."""
    who, at = visit["patient"], visit["id"]
    return [
        tablet.event("arrived", at),
        tablet.event("identity_taken", at, {"source": "spoken", "birth_date": who["birth_date"], "how": "typed"}),
        tablet.event("identity_taken", at, {"source": "spoken", "name": who["name"], "how": "heard"}),
        tablet.event("identity_taken", at, band(visit)),
    ]


def band(visit: dict[str, Any]) -> dict[str, str]:
    who = visit["patient"]
    return {
        "source": "band",
        "how": "scanned",
        "birth_date": who["birth_date"],
        "record_number": who["record_number"],
    }


def drawn(tablet: ATablet, visit: dict[str, Any]) -> list[dict[str, Any]]:
    """A whole visit as it should go, from arriving to leaving with every tube labelled and bagged."""
    at, tubes = visit["id"], [tube["id"] for tube in visit["tubes"]]
    events = proven(tablet, visit)
    events += [
        tablet.event("asked", at, {"question": "consent", "answer": "yes"}),
        tablet.event("site_chosen", at, {"side": "right", "place": "forearm"}),
        tablet.event("skin_cleaned", at, {"with": "isopropyl_70"}),
        tablet.event("tourniquet_on", at, {"side": "right"}, after_s=40),
        tablet.event("needle_in", at, {"kind": "straight"}, after_s=5),
    ]
    for tube in tubes:
        events.append(tablet.event("tube_filled", at, {"tube": tube}, after_s=5))
    events += [
        tablet.event("tourniquet_off", at, {"side": "right"}),
        tablet.event("needle_out", at, {"guard_on": True}),
        tablet.event("pressure_on", at),
    ]
    for tube in visit["tubes"]:
        events += [
            tablet.event("tube_mixed", at, {"tube": tube["id"], "inversions": 10}),
            tablet.event("label_printed", at, {"tube": tube["id"]}),
            tablet.event("label_read", at, {"tube": tube["id"], "text": tube["specimen"], "how": "scanned"}),
        ]
    events += [
        tablet.event("identity_taken", at, band(visit)),
        tablet.event("site_looked", at, {"bleeding": False, "watched_s": 6}, after_s=150),
        tablet.event("taped", at),
        *(tablet.event("tube_bagged", at, {"tube": tube, "bag": "1"}) for tube in tubes),
        tablet.event("visit_ended", at, {"outcome": "collected"}),
    ]
    return events
