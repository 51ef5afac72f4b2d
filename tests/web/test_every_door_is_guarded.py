"""Every door of the app, walked as every role and as nobody: the table of roles is the only key."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask
from werkzeug.routing import Rule

from bedside.people.roles import HOME, POLICY, Role, may_open, who_may_open
from bedside.records.database import db
from bedside.records.tables import Session
from tests.a_house import BASE, MARK, AHouse, Browser

NOBODY = ""
ASKERS = (NOBODY, *Role)

CHANGES = frozenset({"POST", "PUT", "PATCH", "DELETE"})


def path_of(app: Flask, rule: Rule) -> str:
    """An address behind this door, with something in every place of the rule."""
    values = {name: 1 if type(kind).__name__ == "IntegerConverter" else "x" for name, kind in rule._converters.items()}
    with app.test_request_context(base_url=BASE):
        built = app.url_map.bind("localhost").build(rule.endpoint, values, method=next(iter(methods_of(rule))))
    return built


def methods_of(rule: Rule) -> set[str]:
    return set(rule.methods or ()) - {"HEAD", "OPTIONS"}


def knock(browser: Browser, path: str, method: str) -> Any:
    return browser.client.open(path, method=method, base_url=BASE, headers=MARK, json=None)


def is_turned_away(answer: Any) -> bool:
    return answer.status_code in (401, 403) or answer.headers.get("Location", "").startswith("/sign-in?next=")


@pytest.mark.parametrize("role", ASKERS)
def test_every_door_opens_to_exactly_the_roles_of_the_table(house: AHouse, role: str) -> None:
    browser = house.signed_in(role) if role else house.browser()

    for rule in house.app.url_map.iter_rules():
        for method in methods_of(rule):
            answer = knock(browser, path_of(house.app, rule), method)
            if rule.endpoint == "signing_in.sign_out" and role:
                browser = house.signed_in(role)
            assert is_turned_away(answer) is not may_open(role, rule.endpoint), (rule.endpoint, method, answer.status)


def test_every_door_is_in_the_table_and_the_table_names_no_door_that_is_not_there(house: AHouse) -> None:
    doors = {rule.endpoint for rule in house.app.url_map.iter_rules()}
    blueprints = {f"{door.rpartition('.')[0]}.*" for door in doors}

    assert [door for door in doors if not who_may_open(door)] == []
    assert set(POLICY) <= doors | blueprints


def test_a_door_nobody_listed_is_shut_to_everybody(house: AHouse) -> None:
    house.app.add_url_rule("/unlisted", "unlisted", lambda: "open")

    for role in ASKERS:
        browser = house.signed_in(role) if role else house.browser()
        assert is_turned_away(browser.get("/unlisted"))


def test_only_the_shell_and_signing_in_are_open_to_nobody() -> None:
    open_to_all = {door for door, roles in POLICY.items() if NOBODY in roles}

    assert open_to_all == {
        "static", "shell.*", "tablet.shell", "signing_in.sign_in", "signing_in.signed_in", "signing_in.home",
        "tablet.enrol", "protection.page",
    }  # fmt: skip


@pytest.mark.parametrize("role", list(Role))
def test_each_role_is_taken_where_it_belongs(house: AHouse, role: Role) -> None:
    answer = house.signed_in(role).get("/")

    assert answer.headers["Location"] == HOME[role]


@pytest.mark.parametrize("role", ASKERS)
def test_looking_changes_nothing(house: AHouse, role: str) -> None:
    """Every page and JSON door that is only read; the packet is left out: fetching it takes the round out."""
    browser = house.signed_in(role) if role else house.browser()
    before = everything(house)

    for rule in house.app.url_map.iter_rules():
        if "GET" in methods_of(rule) and rule.endpoint != "tablet.packet":
            knock(browser, path_of(house.app, rule), "GET")

    assert everything(house) == before


def everything(house: AHouse) -> list[Any]:
    """All rows of all tables but the sessions, which note when somebody was last there."""
    tables = sorted(db.get_tables())
    kept = [name for name in tables if name not in (Session._meta.table_name, "sqlite_sequence")]
    return [sorted(map(repr, db.execute_sql(f'SELECT * FROM "{name}"').fetchall())) for name in kept]


@pytest.mark.parametrize("role", list(Role))
def test_after_signing_out_the_old_cookie_opens_nothing(house: AHouse, role: Role) -> None:
    browser = house.signed_in(role)
    cookies = [cookie for cookie in browser.client._cookies.values() if "form" not in cookie.key]
    (held,) = cookies
    assert browser.post("/sign-out", {}).status_code == 302

    again = house.browser()
    again.client.set_cookie(held.key, held.value, domain="localhost", secure=True)

    for rule in house.app.url_map.iter_rules():
        if NOBODY not in who_may_open(rule.endpoint):
            for method in methods_of(rule):
                assert is_turned_away(knock(again, path_of(house.app, rule), method)), rule.endpoint


@pytest.mark.parametrize("role", list(Role))
def test_a_form_without_its_token_changes_nothing(house: AHouse, role: Role) -> None:
    browser = house.signed_in(role)
    before = everything(house)

    for rule in house.app.url_map.iter_rules():
        is_form = methods_of(rule) & CHANGES and not rule.endpoint.startswith("tablet.")
        if is_form and may_open(role, rule.endpoint):
            answer = browser.client.post(path_of(house.app, rule), base_url=BASE, data={})
            assert answer.status_code == 400, rule.endpoint

    assert everything(house) == before
