"""Passwords: how long, which ones not, and how they are kept (argon2id with a keyed step before it)."""

from __future__ import annotations

import hmac
import itertools
import re
import secrets
import threading
from dataclasses import dataclass

import argon2

SHORTEST = 15
"""Characters. NIST SP 800-63B-4, 3.1.1.2: a password that stands alone has at least 15."""

LONGEST = 1024
"""Characters. Longer ones are refused, so that nobody keeps the server busy with a book."""

FEWEST_DIFFERENT = 5
"""Different characters. From memory; stops `aaaaaaaaaaaaaaa`."""

TOO_COMMON = frozenset(
    """
    password passwort bedside hospital ward nurse phlebotomist phlebotomy blood doctor admin administrator
    welcome letmein qwerty qwertyuiop asdfghjkl zxcvbnm changeme secret default iloveyou monkey dragon
    sunshine princess football abc abcdef abcdefgh abcdefghijklmno test demo login keeper charge safety
    officer tablet summer winter spring autumn
    """.split()  # noqa: SIM905 - a block of words reads better than a column of quotes
)
"""Words that, alone or strung together with digits and signs, make no password."""

AT_ONCE = 3
"""Verifications at the same time: each takes 64 MiB."""


@dataclass(frozen=True, slots=True)
class Passwords:
    """Keeps and verifies passwords for one house."""

    pepper: bytes
    hasher: argon2.PasswordHasher
    gate: threading.BoundedSemaphore
    nobody: str
    """Verified against when the name is unknown, so that unknown and wrong take the same time."""

    @classmethod
    def costing(cls, *, pepper: bytes, passes: int, memory_kib: int) -> Passwords:
        """Argon2id of this cost, four lanes: RFC 9106's low-memory choice is three passes over 64 MiB."""
        hasher = argon2.PasswordHasher(time_cost=passes, memory_cost=memory_kib, parallelism=4)
        return cls(pepper, hasher, threading.BoundedSemaphore(AT_ONCE), hasher.hash(secrets.token_hex(16)))

    def keep(self, password: str) -> str:
        """The text to keep instead of the password."""
        with self.gate:
            return self.hasher.hash(self._peppered(password))

    def verify(self, kept: str, password: str) -> bool:
        """Report whether this is the password behind what was kept."""
        try:
            with self.gate:
                return self.hasher.verify(kept, self._peppered(password))
        except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
            return False

    def is_outdated(self, kept: str) -> bool:
        """Report whether it was kept at another cost than today's."""
        return self.hasher.check_needs_rehash(kept)

    def _peppered(self, password: str) -> str:
        return hmac.new(self.pepper, password.encode(), "sha256").hexdigest()


def password_fault(password: str, *, names: tuple[str, ...] = ()) -> str | None:
    """What is wrong with a chosen password, as a sentence; None when it will do.

    names: the sign-in name, the person's name and the site's: guessed first by anybody who means harm.
    """
    if len(password) < SHORTEST:
        return f"The password has {len(password)} characters; it needs {SHORTEST}. Three or four words will do."
    if len(password) > LONGEST:
        return f"The password has {len(password)} characters; at most {LONGEST} are taken."
    if len(set(password)) < FEWEST_DIFFERENT or _is_a_run(password):
        return "The password repeats few characters, so it is guessed first. Choose three or four words."
    if _is_strung_from(password, TOO_COMMON | _parts(names)):
        return "The password is made of words tried first (a name, the trade, `password`). Choose other words."
    return None


def _is_a_run(password: str) -> bool:
    """Report whether each character follows the one before in code order, as in 123456789…"""
    steps = {ord(b) - ord(a) for a, b in itertools.pairwise(password)}
    return steps <= {1, -9} or steps <= {-1, 9}


def _parts(names: tuple[str, ...]) -> frozenset[str]:
    return frozenset(part for name in names for part in re.findall(r"[^\W\d_]{2,}", name.casefold()))


def _is_strung_from(password: str, words: frozenset[str]) -> bool:
    """Report whether nothing but these words remains once digits, signs and spaces are taken out."""
    letters = "".join(re.findall(r"[^\W\d_]", password.casefold()))
    reached = {0}
    for start in range(len(letters)):
        if start in reached:
            reached |= {start + len(word) for word in words if letters.startswith(word, start)}
    return len(letters) in reached
