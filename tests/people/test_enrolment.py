"""A tablet is enrolled in person, signs what it sends, and can be taken out of use without losing a draw."""

from __future__ import annotations

import base64
import json
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256

from bedside.people import tablets
from bedside.people.roles import Role
from bedside.people.tablets import EnrolmentRefused, Request, TooManyCodes
from bedside.records import tablets as tablet_use
from bedside.records.database import writing
from bedside.records.moments import as_text, now
from bedside.records.tables import Enrolment, Event, Session, SetAside, Tablet
from bedside.sync.sealing import point_of
from tests.a_house import BASE, MARK, AHouse, ATablet, visit_of

PAGE = "/house/tablets"


@dataclass
class Signer:
    """A tablet's own key pair."""

    private: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))

    @property
    def public(self) -> str:
        return base64.b64encode(point_of(self.private.public_key())).decode()

    def headers(self, tablet: str, method: str, path: str, body: bytes = b"") -> dict[str, str]:
        text = Request(method=method, path=path, body=body).signed_by(tablet)
        r, s = decode_dss_signature(self.private.sign(text, ec.ECDSA(SHA256())))
        signature = base64.b64encode(r.to_bytes(32) + s.to_bytes(32)).decode()
        return {**MARK, "X-Bedside-Tablet": tablet, "X-Bedside-Signature": signature}


@pytest.fixture
def signer() -> Signer:
    return Signer()


@pytest.fixture
def tablet(house: AHouse, signer: Signer) -> ATablet:
    """A tablet that was enrolled under the name Ward 5, no. 2."""
    made = house.tablet()
    tablets.enrol(a_code(house), made.name, signer.public, address="127.0.0.1", at=now())
    return made


def a_code(house: AHouse, **how: Any) -> str:
    with writing():
        return tablets.make_code("Ward 5, no. 2", by=house.people[Role.KEEPER], **{"at": now(), **how})


def send(tablet: ATablet, events: list[Any], signer: Signer) -> Any:
    message = {"house": tablet.browser.house.id, "tablet": tablet.name, "schema": 1, "events": events}
    body = json.dumps(message).encode()
    return tablet.browser.client.post(
        "/tablet/events",
        base_url=BASE,
        data=body,
        content_type="application/json",
        headers=signer.headers(tablet.name, "POST", "/tablet/events", body),
    )


def an_event(tablet: ATablet) -> dict[str, Any]:
    return tablet.event("arrived", visit_of(house_packet(tablet), "Karin")["id"])


def house_packet(tablet: ATablet) -> dict[str, Any]:
    """The round, fetched by another tablet: an enrolled one must sign."""
    return tablet.browser.house.tablet().packet()


def nobody_is_signed_in() -> None:
    Session.update(ended_at="2026-11-25T07:00:00.000Z").execute()


def test_a_code_from_the_houses_screen_enrols_a_tablet_once(house: AHouse, signer: Signer) -> None:
    keeper = house.signed_in(Role.KEEPER)
    page = keeper.post(f"{PAGE}/code", {"name": "Ward 5, no. 2"}, on=PAGE).text
    code = page.split('<b class="digits">')[1].split("<")[0]
    asked = {"code": code, "tablet": "tablet-9", "key": signer.public}

    first = house.browser().client.post("/tablet/enrol", base_url=BASE, json=asked, headers=MARK)
    again = house.browser().client.post("/tablet/enrol", base_url=BASE, json={**asked, "tablet": "x"}, headers=MARK)

    assert first.get_json()["name"] == "Ward 5, no. 2"
    assert len(base64.b64decode(first.get_json()["sealing"]["key"])) == 65
    assert (again.status_code, again.get_json()["code"]) == (422, "not-enrolled")
    assert code not in keeper.get(PAGE).text
    assert "enrolled, signs what it sends" in keeper.get(PAGE).text


def test_T_V6_4_1_a_code_lives_a_quarter_of_an_hour(house: AHouse, signer: Signer) -> None:
    made = now()
    code = a_code(house, at=made)

    with pytest.raises(EnrolmentRefused):
        tablets.enrol(code, "tablet-9", signer.public, address="h", at=made + timedelta(minutes=15))
    assert tablets.enrol(code, "tablet-9", signer.public, address="h", at=made + timedelta(seconds=899))


def test_T_V6_3_1_codes_cannot_be_tried_out(house: AHouse, signer: Signer) -> None:
    code, at = a_code(house), now()
    for _ in range(5):
        with pytest.raises(EnrolmentRefused):
            tablets.enrol("00000000", "tablet-9", signer.public, address="h", at=at)

    with pytest.raises(TooManyCodes):
        tablets.enrol(code, "tablet-9", signer.public, address="h", at=at)
    assert Enrolment.select().count() == 0


@pytest.mark.parametrize("key", ["", "AAAA", "no base64", base64.b64encode(b"\x04" + b"\x01" * 64).decode()])
def test_a_key_that_is_none_enrols_nothing_and_uses_no_code_up(house: AHouse, signer: Signer, key: str) -> None:
    code = a_code(house)
    with pytest.raises(EnrolmentRefused):
        tablets.enrol(code, "tablet-9", key, address="h", at=now())

    assert tablets.enrol(code, "tablet-9", signer.public, address="h", at=now())


def test_an_enrolled_tablet_brings_its_events_home_when_nobody_is_signed_in(tablet: ATablet, signer: Signer) -> None:
    event = an_event(tablet)
    nobody_is_signed_in()

    answer = send(tablet, [event], signer)

    assert [one["status"] for one in answer.get_json()["answers"]] == ["stored"]
    assert Event.get_by_id(event["id"]).received_from_id is None


def test_T_V6_3_3_a_tablets_signature_brings_events_home_and_fetches_no_round(
    house: AHouse, tablet: ATablet, signer: Signer
) -> None:
    """It proves which tablet asks, and not who holds it: new orders need a person's sign-in."""
    nobody_is_signed_in()
    headers = {path: signer.headers(tablet.name, "GET", path) for path in ("/tablet/hello", "/tablet/packet")}

    hello = tablet.browser.get("/tablet/hello", headers=headers["/tablet/hello"])
    packet = tablet.browser.get(f"/tablet/packet?tablet={tablet.name}", headers=headers["/tablet/packet"])

    assert (hello.status_code, hello.get_json()["person"]) == (200, None)
    assert (packet.status_code, packet.get_json()["code"]) == (401, "sign-in")


def test_T_V6_3_3_a_pin_is_nothing_to_the_house(house: AHouse) -> None:
    answer = house.browser().sign_in("phlebotomist", "739215")

    assert "do not go together" in answer.text


def test_another_key_or_a_changed_byte_is_no_signature(tablet: ATablet, signer: Signer) -> None:
    event = an_event(tablet)
    nobody_is_signed_in()
    body = json.dumps({"tablet": tablet.name, "events": [event]}).encode()
    headers = signer.headers(tablet.name, "POST", "/tablet/events", body)

    stranger = send(tablet, [event], Signer())
    changed = tablet.browser.client.post(
        "/tablet/events", base_url=BASE, data=body + b" ", content_type="application/json", headers=headers
    )

    assert (stranger.status_code, changed.status_code) == (401, 401)
    assert Event.select().count() == 0


def test_events_in_an_enrolled_tablets_name_that_it_did_not_sign_are_set_aside(tablet: ATablet) -> None:
    (answer,) = tablet.send([an_event(tablet)])

    assert answer["status"] == "set-aside"
    assert SetAside.get().reason == "not-signed"


def test_T_3_4_a_tablet_out_of_use_gets_no_patients_and_its_events_are_set_aside(
    tablet: ATablet, signer: Signer
) -> None:
    events = [an_event(tablet) for _ in range(4)]
    tablet_use.revoke(tablet.name, now(), reason="left on the bus")

    answer = send(tablet, events, signer).get_json()
    hello = tablet.browser.get("/tablet/hello", headers=signer.headers(tablet.name, "GET", "/tablet/hello"))
    packet = tablet.browser.get(
        f"/tablet/packet?tablet={tablet.name}", headers=signer.headers(tablet.name, "GET", "/tablet/packet")
    )

    assert [one["status"] for one in answer["answers"]] == ["set-aside"] * 4
    assert answer["revoked"] is True and hello.get_json()["revoked"] is True
    assert {row.reason for row in SetAside.select()} == {"revoked-tablet"}
    assert (packet.status_code, packet.get_json()["code"]) == (403, "tablet-out-of-use")


def test_a_round_of_an_enrolled_tablet_says_nothing_of_practice(tablet: ATablet, signer: Signer) -> None:
    packet = tablet.browser.get(
        f"/tablet/packet?tablet={tablet.name}", headers=signer.headers(tablet.name, "GET", "/tablet/packet")
    )

    assert packet.get_json()["practice_mode"] == []
    assert Enrolment.get_by_id(tablet.name).carries_until == packet.get_json()["until"]


def test_T_164_310_a_tablet_not_handed_back_an_hour_after_its_round_is_listed(
    house: AHouse, tablet: ATablet, signer: Signer
) -> None:
    keeper = house.signed_in(Role.KEEPER)
    with writing():
        tablet_use.note_carrying(tablet.name, as_text(now() - timedelta(minutes=59)))
    in_time = keeper.get(PAGE).text
    with writing():
        tablet_use.note_carrying(tablet.name, as_text(now() - timedelta(minutes=60)))
    overdue = keeper.get(PAGE).text
    body = json.dumps({"unsent": 12}).encode()

    tablet.browser.client.post(
        "/tablet/hand-back",
        base_url=BASE,
        data=body,
        content_type="application/json",
        headers=signer.headers(tablet.name, "POST", "/tablet/hand-back", body),
    )

    assert tablet.hello().status_code == 401  # nobody stays signed in on it
    assert "Not handed back" not in in_time and "Not handed back" in overdue
    after = keeper.get(PAGE).text
    assert "Not handed back" not in after and "0 patients, 12 unsent" in after


def test_the_name_given_with_the_code_is_the_tablets_name(tablet: ATablet) -> None:
    assert Tablet.get_by_id(tablet.name).name == "Ward 5, no. 2"
