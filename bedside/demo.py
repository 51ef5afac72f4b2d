"""The demo: one invented ward, made fresh, through the same doors a real ward's orders and people come in by.

What is in it stands in `seed_demo/`, as data: `people.toml`, `orders.csv`, `story.md`.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from bedside.exchange.orders_in import take_in_orders
from bedside.people import accounts, tablets
from bedside.people.passwords import Passwords
from bedside.people.roles import ROLE_WORDS, Role
from bedside.records.database import connected, writing
from bedside.records.house import make_house, read_keys
from bedside.records.orders import TakenIn
from bedside.records.tables import Ward
from bedside.settings import Settings, folder

OFFSET = re.compile(r"(?<=,)T([+-])(\d\d):(\d\d)(?=,)")
"""A time of `orders.csv`: hours and minutes before or after the morning begins."""


DEMO_TABLETS, DEMO_LIVES = 100, timedelta(days=30)
"""The demo's one enrolment code serves whoever tries it; a real one serves one tablet for a quarter of an hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoPerson:
    """Somebody to sign in as."""

    sign_in: str
    name: str
    role: str
    passphrase: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Seed:
    """What the data files say."""

    site: str
    ward: str
    enrolment_code: str
    people: tuple[DemoPerson, ...]
    orders: str
    story: str


def read_seed() -> Seed:
    """Read the data files."""
    place = folder("seed_demo")
    told = tomllib.loads((place / "people.toml").read_text(encoding="utf-8"))
    return Seed(
        site=told["house"]["site"],
        ward=told["house"]["ward"],
        enrolment_code=told["house"]["enrolment_code"],
        people=tuple(DemoPerson(**person) for person in told["people"]),
        orders=(place / "orders.csv").read_text(encoding="utf-8"),
        story=(place / "story.md").read_text(encoding="utf-8"),
    )


def demo_settings(home: Path, zone: str) -> Settings:
    """The settings of an invented house in this folder."""
    return Settings(home=home, zone=zone, site=read_seed().site, demo=True)


def fill(settings: Settings, at: datetime) -> TakenIn:
    """Make the house and bring its people and orders in. The morning begins at the last full quarter of an hour."""
    seed = read_seed()
    make_house(settings, at)
    with connected():
        taken = take_in_orders(dated(seed.orders, morning_at(at)).encode(), file_name="orders.csv", at=at)
        ward = Ward.get(Ward.name == seed.ward)
        for person in seed.people:
            accounts.add_person(
                sign_in=person.sign_in,
                name=person.name,
                role=person.role,
                password=person.passphrase,
                passwords=_passwords(settings),
                at=at,
                site=settings.site,
                ward=ward.id,
            )
        with writing():
            tablets.make_code(
                "Practice tablet", by=None, at=at, uses=DEMO_TABLETS, lives=DEMO_LIVES, code=seed.enrolment_code
            )
    return taken


def morning_at(at: datetime) -> datetime:
    """The last full quarter of an hour."""
    return at - timedelta(minutes=at.minute % 15, seconds=at.second, microseconds=at.microsecond)


def dated(orders: str, morning: datetime) -> str:
    """Put real times where `orders.csv` counts from the morning: `T+00:30` is half an hour after it begins."""

    def moment(found: re.Match[str]) -> str:
        sign, hours, minutes = found.groups()
        away = timedelta(hours=int(hours), minutes=int(minutes))
        return (morning + (away if sign == "+" else -away)).isoformat(timespec="minutes")

    return OFFSET.sub(moment, orders)


def welcome(seed: Seed) -> str:
    """What the terminal says under the address: who to sign in as, and what to try first."""
    lines = [f"  {one.sign_in:8} {one.passphrase:24} {one.name}, {ROLE_WORDS[Role(one.role)]}" for one in seed.people]
    return "\n".join(
        [
            f"One invented morning on Ward {seed.ward}, {seed.site}. For trying out, not for patients.",
            "",
            "Sign in as, with the passphrase:",
            *lines,
            "",
            f"A tablet is enrolled first: its code here is {seed.enrolment_code}.",
            "Then sign in on it and choose a PIN of six digits or more.",
            "",
            "Try first: as ines, take the round out and begin with Haruto Nakagawa, bed 1 A: he is STAT.",
            "He says: Haruto Nakagawa, 21 July 1968. On his band: 40031902|1968-07-21",
            "Everybody else's story, words and bands: bedside demo --story",
            "Ctrl+C ends the morning and throws the ward away.",
        ]
    )


def _passwords(settings: Settings) -> Passwords:
    return Passwords.costing(
        pepper=read_keys(settings.home).pepper,
        passes=settings.password_passes,
        memory_kib=settings.password_memory_kib,
    )
