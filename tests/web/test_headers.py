"""What every answer carries, whatever it is: a page, JSON, a refusal, a file."""

from __future__ import annotations

from http.cookies import SimpleCookie
from typing import Any

import pytest

from bedside.people.roles import Role
from tests.a_house import BASE, MARK, PASSWORD, AHouse

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types app-sw"
)

ADDRESSES = (
    "/", "/sign-in", "/tablet/", "/tablet/hello", "/tablet/packet", "/tablet/events", "/ward/", "/safety/", "/house/",
    "/sw.js", "/manifest.webmanifest", "/static/css/tokens.css", "/static/nothing.css", "/nothing", "/.git/HEAD",
)  # fmt: skip


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_answer_carries_the_headers(house: AHouse, address: str) -> None:
    for browser in (house.browser(), *(house.signed_in(role) for role in Role)):
        headers = browser.get(address, headers=MARK).headers

        assert headers["Content-Security-Policy"] == POLICY
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert headers["Permissions-Policy"].startswith("camera=(self), ")
        assert headers["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"
        assert "Access-Control-Allow-Origin" not in headers


@pytest.mark.parametrize(
    "address", ["/", "/sign-in", "/tablet/hello", "/tablet/packet", "/ward/", "/safety/", "/house/"]
)
def test_nothing_with_a_person_in_it_may_be_kept(house: AHouse, address: str) -> None:
    for browser in (house.browser(), *(house.signed_in(role) for role in Role)):
        assert browser.get(address, headers=MARK).headers["Cache-Control"] == "no-store"


def test_every_answer_to_a_tablet_names_the_house(house: AHouse) -> None:
    for browser in (house.browser(), house.signed_in(Role.PHLEBOTOMIST)):
        for address in ("/tablet/hello", "/tablet/packet", "/tablet/events", "/tablet/nothing"):
            assert browser.get(address, headers=MARK).headers["X-Bedside-House"] == house.id


def cookies_of(answer: Any) -> list[tuple[str, Any]]:
    return [one for line in answer.headers.getlist("Set-Cookie") for one in SimpleCookie(line).items()]


def test_every_cookie_is_bound_to_this_host_and_out_of_reach_of_scripts(house: AHouse) -> None:
    browser = house.browser()
    answers = [browser.get("/sign-in"), browser.sign_in("phlebotomist", PASSWORD), browser.post("/sign-out", {})]

    cookies = [cookie for answer in answers for cookie in cookies_of(answer)]

    short = house.id.removeprefix("h-")[:8]
    assert {name for name, _ in cookies} == {f"__Host-bedside-{short}", f"__Host-bedside-form-{short}"}
    for _, cookie in cookies:
        assert cookie["secure"] and cookie["httponly"]
        assert (cookie["path"], cookie["samesite"], cookie["domain"]) == ("/", "Strict", "")


def test_over_plain_http_nothing_is_promised_about_https(house: AHouse) -> None:
    answer = house.browser().client.get("/sign-in", base_url="http://localhost")

    assert "Strict-Transport-Security" not in answer.headers


def test_a_broken_page_says_so_without_a_trace(house: AHouse, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks() -> None:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setitem(house.app.view_functions, "signing_in.sign_in", breaks)

    answer = house.browser().get("/sign-in")

    assert answer.status_code == 500
    assert "secret detail" not in answer.text and "Traceback" not in answer.text
    assert answer.headers["Content-Security-Policy"] == POLICY
    assert "What to do:" in answer.text


def test_an_unknown_way_of_asking_is_refused_as_a_page(house: AHouse) -> None:
    answer = house.browser().client.open("/sign-in", method="PROPFIND", base_url=BASE)

    assert answer.status_code == 405
    assert "text/html" in answer.headers["Content-Type"]
