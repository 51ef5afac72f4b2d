"""The hazard log as a page: everybody who works by the rules may read it, and what is lacking is not hidden."""

from __future__ import annotations

from html import unescape
from pathlib import Path

import pytest

from bedside.exchange.hazard_file import hazard_log
from bedside.people.roles import Role
from tests.web.a_ward import AWard


@pytest.mark.parametrize("role", list(Role))
def test_everybody_signed_in_reads_every_hazard(tmp_path: Path, role: Role):
    with AWard.opened(tmp_path / "house") as ward:
        page = unescape(ward.sitting(role).get("/safety/hazards").text)

    assert [row.id for row in hazard_log() if row.hazard not in page] == []
    assert [row.id for row in hazard_log() if row.lacks not in page] == []


def test_the_worst_come_first_and_of_those_what_is_lacking():
    shown = [(-row.severity, row.built) for row in hazard_log()]

    assert shown == sorted(shown)
