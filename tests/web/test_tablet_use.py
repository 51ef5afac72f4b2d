"""A keeper takes a tablet out of use, and puts it back: with a reason, and written down."""

from __future__ import annotations

from typing import Any

import pytest

from bedside.__main__ import main
from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.database import connected
from bedside.records.tables import SetAside, Tablet
from bedside.sync.verifying import checks
from tests.a_house import AHouse, ATablet, Browser, visit_of

PAGE = "/house/tablets"


@pytest.fixture
def tablet(house: AHouse) -> ATablet:
    """A tablet that has sent something."""
    made = house.tablet()
    made.send([made.event("arrived", visit_of(made.packet(), "Karin")["id"])])
    return made


@pytest.fixture
def keeper(house: AHouse) -> Browser:
    return house.signed_in(Role.KEEPER)


def change(keeper: Browser, tablet: ATablet, act: str, reason: str) -> Any:
    return keeper.post(PAGE, {"tablet": tablet.name, "act": act, "reason": reason}, on=PAGE)


def last_act() -> tuple[str, str, str]:
    entry = list(audit.entries())[-1]
    return entry.who, entry.action, entry.object


def test_what_a_tablet_out_of_use_still_sends_is_set_aside(house: AHouse, keeper: Browser, tablet: ATablet) -> None:
    answer = change(keeper, tablet, "revoke", "left on the bus")
    written = last_act()
    visit = visit_of(house.tablet().packet(), "Karin")["id"]  # it gets no patients itself any more
    (sent,) = tablet.send([tablet.event("arrived", visit)])

    assert answer.status_code == 302
    assert written == (house.people[Role.KEEPER], "tablet revoked", tablet.name)
    assert sent["status"] == "set-aside"
    assert SetAside.get().reason == "revoked-tablet"
    page = keeper.get(PAGE).text
    assert "by Otto Lindahl: left on the bus" in page
    assert "Put it back in use" in page


def test_put_back_in_use_it_counts_again_and_the_reason_stands(keeper: Browser, tablet: ATablet) -> None:
    change(keeper, tablet, "revoke", "left on the bus")

    change(keeper, tablet, "restore", "the driver brought it")
    written = last_act()
    visit = visit_of(tablet.packet(), "Karin")["id"]
    (sent,) = tablet.send([tablet.event("arrived", visit)])

    assert written[1] == "tablet restored"
    assert sent["status"] == "stored"
    assert "back in use since" in keeper.get(PAGE).text
    assert [one.fault for one in checks() if one.fault] == []


@pytest.mark.parametrize(
    ("act", "reason", "says"),
    [("revoke", "  ", "Say why"), ("restore", "found", "is in use"), ("restore", "", "Say why")],
)
def test_half_a_form_changes_nothing(keeper: Browser, tablet: ATablet, act: str, reason: str, says: str) -> None:
    answer = change(keeper, tablet, act, reason)

    assert answer.status_code == 422
    assert says in answer.text
    assert Tablet.get_by_id(tablet.name).revoked_at is None


def test_a_tablet_nobody_knows_is_said_to_be_unknown(keeper: Browser, tablet: ATablet) -> None:
    answer = keeper.post(PAGE, {"tablet": "another", "act": "revoke", "reason": "x"}, on=PAGE)

    assert answer.status_code == 422
    assert "There is no such tablet" in answer.text


def test_out_of_use_and_back_from_the_command_line(
    house: AHouse, tablet: ATablet, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(house.settings.home))

    assert main(["tablets", "revoke", tablet.name]) == 0
    assert main(["tablets", "revoke", tablet.name]) == 2
    assert "out of use already" in capsys.readouterr().err
    assert main(["tablets", "restore", tablet.name]) == 0

    with connected():
        assert Tablet.get_by_id(tablet.name).revoked_at is None
