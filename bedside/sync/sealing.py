"""Events sealed to this house: what only the house can open, whoever holds the tablet.

A sealed event is base64 of: one byte 1 (the form), 8 bytes naming the house's key, 65 bytes of a P-256 point made for
this event alone, 12 bytes of nonce, and the AES-256-GCM ciphertext with its tag. The AES key comes by HKDF-SHA256 from
the agreement of the two keys (ECDH), with both points as salt. The event's id and its tablet's are authenticated with
it, so that no sealed body can be moved to another event. Twin: `static/js/tablet/vault/sealing.js`.

Source of the construction: the one ECIES-like scheme of `Web Cryptography API` primitives; NIST SP 800-56A (ECDH),
RFC 5869 (HKDF), NIST SP 800-38D (GCM). From memory, no claim of conformance.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

FORM = b"\x01"
NAME, POINT, NONCE, TAG = 8, 65, 12, 16
"""Bytes of each part."""
SHORTEST = len(FORM) + NAME + POINT + NONCE + TAG
PURPOSE = b"bedside event 1"
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
"""The order of P-256's group (NIST SP 800-186): a private key is a number from 1 up to it."""


class Unopenable(ValueError):
    """A sealed event this house cannot open; the sentence says no more than that it cannot."""


@dataclass(frozen=True)
class SealingKey:
    """One private key of the house."""

    private: ec.EllipticCurvePrivateKey

    @classmethod
    def of(cls, secret: bytes) -> SealingKey:
        """The key made from 32 random bytes."""
        return cls(ec.derive_private_key(int.from_bytes(secret) % (ORDER - 1) + 1, ec.SECP256R1()))

    @cached_property
    def point(self) -> bytes:
        """The public key, uncompressed."""
        return point_of(self.private.public_key())

    @property
    def name(self) -> bytes:
        """What a sealed event calls this key: the beginning of its public key's SHA-256."""
        return hashlib.sha256(self.point).digest()[:NAME]

    def as_json(self) -> dict[str, str]:
        """What a tablet is told."""
        return {"kid": self.name.hex(), "key": base64.b64encode(self.point).decode()}


@dataclass(frozen=True)
class Opener:
    """Every key of the house by its name: the one in use, and those it used before."""

    keys: tuple[SealingKey, ...]

    @classmethod
    def of(cls, secrets: Iterable[bytes]) -> Opener:
        return cls(tuple(SealingKey.of(secret) for secret in secrets))

    def open(self, sealed: str, event: str, tablet: str) -> str:
        """The text that was sealed in this event of this tablet.

        Raises Unopenable: another house's key, a changed byte, another event's seal, or no seal at all.
        """
        raw = _bytes(sealed)
        name, point = raw[1 : 1 + NAME], raw[1 + NAME : 1 + NAME + POINT]
        key = next((each for each in self.keys if each.name == name), None)
        if key is None:
            raise Unopenable("sealed to a key this house does not hold")
        try:
            secret = _agreed(key.private, point, point + key.point)
            rest = raw[1 + NAME + POINT :]
            return AESGCM(secret).decrypt(rest[:NONCE], rest[NONCE:], bound_to(event, tablet)).decode()
        except (InvalidTag, ValueError) as error:
            raise Unopenable("damaged, or the seal of another event") from error


def seal(text: str, event: str, tablet: str, point: bytes, nonce: bytes) -> str:
    """Seal a text to a house's public key, as a tablet does. nonce: 12 bytes, fresh for every event."""
    once = ec.generate_private_key(ec.SECP256R1())
    mine = point_of(once.public_key())
    secret = _agreed(once, point, mine + point)
    sealed = AESGCM(secret).encrypt(nonce, text.encode(), bound_to(event, tablet))
    name = hashlib.sha256(point).digest()[:NAME]
    return base64.b64encode(FORM + name + mine + nonce + sealed).decode()


def bound_to(event: str, tablet: str) -> bytes:
    """What a seal is bound to: it opens as this event of this tablet and as no other."""
    return f"bedside|event|1|{event}|{tablet}".encode()


def point_of(key: ec.EllipticCurvePublicKey) -> bytes:
    """A public key as its uncompressed point."""
    return key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


def _agreed(private: ec.EllipticCurvePrivateKey, point: bytes, salt: bytes) -> bytes:
    other = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    return HKDF(algorithm=SHA256(), length=32, salt=salt, info=PURPOSE).derive(private.exchange(ec.ECDH(), other))


def _bytes(sealed: str) -> bytes:
    try:
        raw = base64.b64decode(sealed, validate=True)
    except (binascii.Error, ValueError) as error:
        raise Unopenable("no base64") from error
    if raw[:1] != FORM or len(raw) < SHORTEST:
        raise Unopenable("not a seal of a known form")
    return raw
