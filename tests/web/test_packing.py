"""Packets, answers, scripts and style sheets travel compressed where the client takes it; pages with forms never do."""

from __future__ import annotations

import gzip
import json

import pytest

from bedside.people.roles import Role
from tests.a_house import MARK, AHouse

TAKES = {"Accept-Encoding": "gzip, deflate"}


def test_a_packet_is_compressed_and_says_the_same(house: AHouse) -> None:
    tablet = house.tablet()
    tablet.packet()
    plain = tablet.browser.get(f"/tablet/packet?tablet={tablet.name}", headers=MARK)
    packed = tablet.browser.get(f"/tablet/packet?tablet={tablet.name}", headers={**MARK, **TAKES})

    assert packed.headers["Content-Encoding"] == "gzip"
    assert packed.headers["Vary"] == "Accept-Encoding" == plain.headers["Vary"]
    assert json.loads(gzip.decompress(packed.data)) == json.loads(plain.data)
    assert len(packed.data) * 2 < len(plain.data)


@pytest.mark.parametrize("accepted", ["", "identity", "gzip;q=0", "br"])
def test_who_does_not_take_it_gets_the_plain_bytes(house: AHouse, accepted: str) -> None:
    tablet = house.tablet()

    answer = tablet.browser.get("/tablet/packet", headers={**MARK, "Accept-Encoding": accepted})

    assert "Content-Encoding" not in answer.headers
    assert json.loads(answer.data)["visits"]


@pytest.mark.parametrize("role", [Role.CHARGE_NURSE, Role.SAFETY_OFFICER, Role.KEEPER])
def test_no_page_is_compressed(house: AHouse, role: Role) -> None:
    """BREACH: the length of a compressed page would tell about the token of its form."""
    browser = house.signed_in(role)
    for path in ("/ward/", "/safety/", "/house/people", "/sign-in", "/"):
        assert "Content-Encoding" not in browser.get(path, headers=TAKES).headers


@pytest.mark.parametrize("name", ["js/tablet/judge.js", "css/pages.css"])
def test_scripts_and_style_sheets_are_compressed(house: AHouse, name: str) -> None:
    browser = house.browser()
    build = house.app.extensions["shell"].build

    for path in (build.url(name), f"/static/{name}"):
        answer = browser.get(path, headers=TAKES)
        assert gzip.decompress(answer.data) == build.files[name].content
        assert answer.headers["Content-Length"] == str(len(answer.data))


def test_the_icon_is_served_under_its_old_name(house: AHouse) -> None:
    answer = house.browser().get("/favicon.ico")

    assert (answer.status_code, answer.mimetype) == (200, "image/svg+xml")
