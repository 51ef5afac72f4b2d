"""The rulebook: every limit, text and code, once. It is written out as text, and the hash of that text names it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cached_property
from hashlib import sha256
from types import MappingProxyType
from typing import Any

from bedside.clinical.containers import CONTAINERS, Container
from bedside.clinical.findings import Finding, Severity
from bedside.clinical.first_aid import FIRST_AID, FirstAid
from bedside.clinical.limits import LIMITS, Limit
from bedside.clinical.rulebook_volumes import VOLUME_LIMITS, VOLUME_TABLES, VolumeTables
from bedside.clinical.wording import KINDS, FindingKind, Wording

SCHEMA = 1

# Tests for which nothing with alcohol may touch the skin: LOINC of ethanol in blood, serum or plasma (from memory),
# and the words by which a site's own code is known. Practice SK-07.
ALCOHOL_TESTS = ("5640-8", "5643-2", "56478-1")
ALCOHOL_WORDS = ("ethanol", "alcohol", "etoh")

# Letters that no Unicode decomposition takes apart, and what stands for them when names are compared.
LETTERS: Mapping[str, str] = MappingProxyType(
    {
        "ß": "ss",
        "ł": "l",
        "ø": "o",
        "đ": "d",
        "ħ": "h",
        "ŧ": "t",
        "ð": "d",
        "ı": "i",
        "ς": "σ",
        "ƶ": "z",
        "ɨ": "i",
        "ƀ": "b",
    }
)


@dataclass(frozen=True)
class Rulebook:
    """One edition of the rules. Two books with the same text are the same book.

    edition: 0 is the built-in book, a site's own editions count from 1; it makes each one's text its own.
    """

    edition: int = 0
    limits: Mapping[str, Limit] = field(default_factory=lambda: {**LIMITS, **VOLUME_LIMITS})
    containers: Mapping[str, Container] = field(default_factory=lambda: CONTAINERS)
    findings: Mapping[str, FindingKind] = field(default_factory=lambda: {kind.code: kind for kind in KINDS})
    first_aid: Mapping[str, FirstAid] = field(default_factory=lambda: FIRST_AID)
    volumes: VolumeTables = VOLUME_TABLES
    alcohol_tests: tuple[str, ...] = ALCOHOL_TESTS
    alcohol_words: tuple[str, ...] = ALCOHOL_WORDS
    letters: Mapping[str, str] = field(default_factory=lambda: LETTERS)

    def value(self, name: str) -> float:
        """The number of a limit, in the limit's unit."""
        return self.limits[name].value

    def finding(self, code: str, severity: Severity, event: str | None) -> Finding:
        """A finding with this book's words."""
        kind = self.findings[code]
        wording = kind.at(severity)
        return Finding(code, severity, self.filled(wording.says), self.filled(wording.do_next), kind.source, event)

    def afterwards(self, code: str) -> Wording | None:
        """What a desk reads about a finding once the visit is past, with this book's numbers; None: as it was said."""
        kind = self.findings.get(code)
        words = kind.afterwards if kind else None
        return Wording(self.filled(words.says), self.filled(words.do_next)) if words else None

    def filled(self, text: str) -> str:
        """A text with the numbers of this book put in; a limit in seconds also goes by its minutes, `…_min`."""
        return text.format_map(self._numbers)

    def first_steps(self, kind: str) -> tuple[str, ...]:
        """What to do first for this kind of incident, with this book's numbers."""
        return tuple(self.filled(step) for step in self.first_aid[kind].steps)

    @cached_property
    def _numbers(self) -> dict[str, str]:
        minutes = {
            f"{name.removesuffix('_s')}_min": f"{limit.value / 60:g}"
            for name, limit in self.limits.items()
            if limit.unit == "s"
        }
        return minutes | {name: f"{limit.value:g}" for name, limit in self.limits.items()}

    @cached_property
    def order_of_codes(self) -> dict[str, int]:
        """Where each code stands in the table of findings."""
        return {code: place for place, code in enumerate(self.findings)}

    def as_json(self) -> dict[str, Any]:
        """The whole book as plain values, with the numbers already put into the texts."""
        return {
            "schema": SCHEMA,
            "edition": self.edition,
            "severities": [severity.value for severity in Severity],
            "limits": {
                name: {**asdict(limit), "since": limit.since.isoformat()} for name, limit in self.limits.items()
            },
            "containers": {kind: asdict(container) for kind, container in self.containers.items()},
            "findings": {code: self._kind_as_json(kind) for code, kind in self.findings.items()},
            "volumes": self.volumes.as_json(),
            "first_aid": {
                kind: {**asdict(row), "steps": self.first_steps(kind)} for kind, row in self.first_aid.items()
            },
            "alcohol_tests": list(self.alcohol_tests),
            "alcohol_words": list(self.alcohol_words),
            "letters": dict(self.letters),
        }

    def _kind_as_json(self, kind: FindingKind) -> dict[str, Any]:
        wording = {
            severity.value: {"says": self.filled(words.says), "do_next": self.filled(words.do_next)}
            for severity, words in kind.wording.items()
        }
        told: dict[str, Any] = {"source": kind.source, "wording": wording}
        afterwards = self.afterwards(kind.code)
        if afterwards:
            told["afterwards"] = {"says": afterwards.says, "do_next": afterwards.do_next}
        return told

    @cached_property
    def text(self) -> str:
        """The book as it travels: these very characters are hashed and carried in packets."""
        return json.dumps(self.as_json(), ensure_ascii=False, indent=1)

    @cached_property
    def hash(self) -> str:
        """`sha256:` and the hexadecimal hash of the text's UTF-8 bytes."""
        return "sha256:" + sha256(self.text.encode()).hexdigest()


def default_book() -> Rulebook:
    """The built-in book."""
    return _DEFAULT


_DEFAULT = Rulebook()
