"""Add, list, disable or enable the people who may sign in.

The password is asked for, or read from the first line of standard input when that is not a terminal.
"""

from __future__ import annotations

import argparse
import getpass
import sys

from bedside.people import accounts
from bedside.people.accounts import AccountRefused
from bedside.people.passwords import Passwords
from bedside.people.roles import Role
from bedside.records.database import connected
from bedside.records.house import HouseMissing, KeyExposed, open_house, read_keys
from bedside.records.moments import now
from bedside.records.tables import Person
from bedside.settings import Settings


def arguments(parser: argparse.ArgumentParser) -> None:
    acts = parser.add_subparsers(dest="act", required=True, metavar="ACT")
    add = acts.add_parser("add", help="make an account")
    add.add_argument("sign_in", metavar="NAME", help="the name to sign in with")
    add.add_argument("--role", required=True, choices=[role.value for role in Role])
    add.add_argument("--name", required=True, help="the person's own name")
    acts.add_parser("list", help="everybody who has an account")
    for act in ("disable", "enable", "password"):
        one = acts.add_parser(act, help=f"{act} an account" if act != "password" else "set a new password")
        one.add_argument("sign_in", metavar="NAME")


def run(args: argparse.Namespace) -> int:
    settings = Settings.from_environment()
    try:
        open_house(settings, now())
        with connected():
            return ACTS[args.act](args, settings)
    except (AccountRefused, HouseMissing, KeyExposed) as refused:
        print(refused, file=sys.stderr)
        return 2


def _add(args: argparse.Namespace, settings: Settings) -> int:
    person = accounts.add_person(
        sign_in=args.sign_in,
        name=args.name,
        role=args.role,
        password=_password(),
        passwords=_passwords(settings),
        site=settings.site,
        at=now(),
    )
    print(f"{person.name} signs in as {person.sign_in}, {person.role}.")
    return 0


def _list(args: argparse.Namespace, settings: Settings) -> int:
    for person in accounts.everybody():
        closed = f"  disabled {person.disabled_at}" if person.disabled_at else ""
        print(f"{person.sign_in:20} {person.role:16} {person.name}{closed}")
    return 0


def _disable(args: argparse.Namespace, settings: Settings) -> int:
    accounts.disable(_known(args.sign_in).id, now())
    print(f"{args.sign_in} is disabled; every session of theirs has ended.")
    return 0


def _enable(args: argparse.Namespace, settings: Settings) -> int:
    accounts.enable(_known(args.sign_in).id, now())
    print(f"{args.sign_in} may sign in again.")
    return 0


def _set_password(args: argparse.Namespace, settings: Settings) -> int:
    person = _known(args.sign_in)
    accounts.set_password(person, _password(), _passwords(settings), now(), by="house")
    print(f"{args.sign_in} has a new password; every session of theirs has ended.")
    return 0


def _known(sign_in: str) -> Person:
    person = accounts.find(sign_in)
    if person is None:
        raise AccountRefused(f"Nobody signs in as {sign_in!r}. See: bedside people list")
    return person


def _password() -> str:
    if sys.stdin.isatty():
        return getpass.getpass("Password (at least 15 characters): ")
    return sys.stdin.readline().rstrip("\n")


def _passwords(settings: Settings) -> Passwords:
    keys = read_keys(settings.home)
    return Passwords.costing(
        pepper=keys.pepper, passes=settings.password_passes, memory_kib=settings.password_memory_kib
    )


ACTS = {"add": _add, "list": _list, "disable": _disable, "enable": _enable, "password": _set_password}
