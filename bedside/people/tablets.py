"""Enrolling a tablet in person, and telling whether a request was signed by one.

Somebody in the house makes a code and reads it off the screen to whoever holds the tablet. The tablet makes a key pair,
keeps the private half where no script can read it out, and shows the public half together with the code.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256

from bedside.people import throttle
from bedside.records import audit
from bedside.records.database import writing
from bedside.records.moments import as_text
from bedside.records.tables import Enrolment, EnrolmentCode, Tablet

CODE_DIGITS = 8
CODE_LIVES = timedelta(minutes=15)
"""OWASP ASVS 5.0 V6.4.1: a code for setting up is random, short-lived and used once."""

LONGEST_NAME = 40
"""Characters of a tablet's name or id."""

POINT = 65
HALF = 32
"""Bytes of a P-256 point, uncompressed, and of each half of a signature."""


class EnrolmentRefused(ValueError):
    """The tablet is not enrolled; the sentence says why and what to do."""


class TooManyCodes(Exception):
    """Too many codes were wrong; `wait_s` says how long to wait."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"wait {wait_s} s")
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a tablet signs: how and where it asks, and the very bytes it sends."""

    method: str
    path: str
    body: bytes

    def signed_by(self, tablet: str) -> bytes:
        """The bytes under the signature. Twin: `static/js/tablet/vault/device.js`."""
        digest = hashlib.sha256(self.body).hexdigest()
        return f"bedside tablet 1\n{self.method}\n{self.path}\n{tablet}\n{digest}".encode()


def make_code(
    name: str, *, by: str | None, at: datetime, uses: int = 1, lives: timedelta = CODE_LIVES, code: str | None = None
) -> str:
    """A code that enrols a tablet under this name; it is shown once and kept only as a hash. Call inside `writing()`.

    Raises EnrolmentRefused for a name nobody could find the tablet by.
    """
    if not 0 < len(name.strip()) <= LONGEST_NAME or not name.isprintable():
        raise EnrolmentRefused(
            f"Give the tablet the name on its back, up to {LONGEST_NAME} characters, so that people can tell which one "
            "is meant."
        )
    made = code or "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
    EnrolmentCode.create(
        code_hash=_hash(made),
        name=name.strip(),
        made_at=as_text(at),
        ends_at=as_text(at + lives),
        uses_left=uses,
        made_by=by,
    )
    audit.write(who=by or "house", action="enrolment code made", object=name.strip(), at=at)
    return made


def enrol(code: str, tablet: str, public_key: str, *, address: str, at: datetime) -> str:
    """Enrol a tablet with the code somebody typed; gives the tablet's name.

    Raises TooManyCodes after too many wrong ones, EnrolmentRefused for a wrong or old code, a tablet enrolled already,
    and a key that is none.
    """
    counts = throttle.counts_for("enrolment code", address)
    with writing():
        wait = throttle.seconds_to_wait(counts, at)
        if wait:
            raise TooManyCodes(wait)
        row = _code(code, at)
        if row is None:
            throttle.note_failure(counts, at)
    if row is None:
        raise EnrolmentRefused("This code is wrong, used up or too old. Ask for a new one at the house.")
    _refuse_unusable(tablet, public_key)
    with writing():
        _write(row, tablet, public_key, at)
    return str(row.name)


def is_signed(request: Request, tablet: str, signature: str) -> bool:
    """Report whether this enrolled tablet signed this request, also one that is out of use by now."""
    row = Enrolment.get_or_none(Enrolment.tablet == tablet)
    if row is None:
        return False
    try:
        raw = base64.b64decode(signature, validate=True)
        halves = int.from_bytes(raw[:HALF]), int.from_bytes(raw[HALF : 2 * HALF])
        key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), base64.b64decode(row.public_key))
        key.verify(encode_dss_signature(*halves), request.signed_by(tablet), ec.ECDSA(SHA256()))
    except (InvalidSignature, binascii.Error, ValueError):
        return False
    return len(raw) == 2 * HALF


def _code(code: str, at: datetime) -> EnrolmentCode | None:
    row: EnrolmentCode | None = EnrolmentCode.get_or_none(EnrolmentCode.code_hash == _hash(code))
    return row if row is not None and row.uses_left > 0 and row.ends_at > as_text(at) else None


def _refuse_unusable(tablet: str, public_key: str) -> None:
    if not 0 < len(tablet) <= LONGEST_NAME or not tablet.isprintable():
        raise EnrolmentRefused("The tablet did not say its own name. Load the page again.")
    try:
        point = base64.b64decode(public_key, validate=True)
        ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    except (binascii.Error, ValueError) as error:
        raise EnrolmentRefused("The tablet's key cannot be used. Load the page again.") from error
    if len(point) != POINT:
        raise EnrolmentRefused("The tablet's key cannot be used. Load the page again.")


def _write(code: EnrolmentCode, tablet: str, public_key: str, at: datetime) -> None:
    if Enrolment.get_or_none(Enrolment.tablet == tablet) is not None:
        raise EnrolmentRefused("This tablet is enrolled already.")
    taken = EnrolmentCode.update(uses_left=EnrolmentCode.uses_left - 1).where(
        (EnrolmentCode.code_hash == code.code_hash) & (EnrolmentCode.uses_left > 0)
    )
    if not taken.execute():
        raise EnrolmentRefused("This code was used by another tablet just now. Ask for a new one at the house.")
    if Tablet.get_or_none(Tablet.id == tablet) is None:
        Tablet.create(id=tablet, first_seen_at=as_text(at), last_seen_at=as_text(at))
    Tablet.update(name=code.name).where(Tablet.id == tablet).execute()
    Enrolment.create(tablet=tablet, public_key=public_key, enrolled_at=as_text(at), code_by=code.made_by_id)
    audit.write(who=code.made_by_id or "house", action="tablet enrolled", object=tablet, result=code.name, at=at)


def _hash(code: str) -> str:
    digits = "".join(one for one in code if one.isdigit())
    return hashlib.sha256(f"enrolment {digits}".encode()).hexdigest()
