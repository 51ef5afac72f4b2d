"""The page that says what is protected: open to everybody, and honest about the rest."""

from __future__ import annotations

import re

from tests.a_house import AHouse


def test_everybody_can_read_what_is_protected_and_what_is_not(house: AHouse) -> None:
    answer = house.browser().get("/what-this-protects")

    text = re.sub(r"<[^>]+>|\s+", " ", answer.text)
    assert answer.status_code == 200
    for said in ("What it does not protect", "A stolen tablet whose disk can be copied", "It claims no conformance"):
        assert said in re.sub(" +", " ", text)


def test_the_page_names_nobody(house: AHouse) -> None:
    page = house.browser().get("/what-this-protects").text

    assert "Baptista" not in page and "Ojala" not in page
