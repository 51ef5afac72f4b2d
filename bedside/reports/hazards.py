"""The hazard log: what could hurt somebody, what the app does about it, and what proves that it does. Pure."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

SEVERITIES = {1: "nuisance", 2: "minor", 3: "moderate", 4: "serious", 5: "death"}
"""The worst that may come of a hazard before any control; the scale of the log itself, no standard's."""

HEAD = """# Hazard log

{count} hazards, the worst first; {open} of them are not wholly controlled yet, and say what is lacking.
Severity is the worst that may come of it before any control, from 1 (nuisance) to 5 (death).

Bedside supports trained, authorised staff. Local policy, law and the judgement of licensed practitioners come first;
it is not a medical device and claims no conformance. A house adds the hazards of its own, and signs."""

FOOT = """## Read and agreed

| name | role | date | signature |
|---|---|---|---|
| | | | |
| | | | |"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """One row. findings: codes of the rulebook; cases: shared rule cases; tests: what proves the control.

    lacks: what is not built of the control, empty where all of it is.
    """

    id: str
    severity: int
    hazard: str
    control: str
    built: bool
    findings: tuple[str, ...] = ()
    cases: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()
    lacks: str = ""

    @property
    def how_bad(self) -> str:
        """The severity with its word, `5, death`."""
        return f"{self.severity}, {SEVERITIES[self.severity]}"

    @property
    def state(self) -> str:
        """How far the control is built and proven, in words."""
        if not self.built:
            return f"Not wholly controlled. {self.lacks}"
        proofs = len(self.tests) + len(self.cases)
        return f"Proven by {proofs} {'test' if proofs == 1 else 'tests'}."


def read_hazards(text: str) -> tuple[Hazard, ...]:
    """The rows of a log, the worst first. Raises TypeError where a row lacks a word or has one nobody knows."""
    rows = tuple(_hazard(row) for row in tomllib.loads(text)["hazard"])
    return tuple(sorted(rows, key=lambda row: (-row.severity, row.built, int(row.id[1:]))))


def _hazard(row: dict[str, Any]) -> Hazard:
    return Hazard(**{name: tuple(value) if isinstance(value, list) else value for name, value in row.items()})


def document(hazards: Iterable[Hazard]) -> str:
    """The log as Markdown, to read and to sign."""
    rows = list(hazards)
    head = HEAD.format(count=len(rows), open=sum(not row.built for row in rows))
    return "\n\n".join([head, *map(_section, rows), FOOT])


def _section(row: Hazard) -> str:
    lines = [
        f"- Severity {row.how_bad}",
        f"- Control: {row.control}",
        *([f"- Findings: {', '.join(f'`{code}`' for code in row.findings)}"] if row.findings else []),
        *(f"- Case: {case}" for case in row.cases),
        *(f"- Test: `{test}`" for test in row.tests),
        f"- {row.state}",
    ]
    return f"## {row.id}. {row.hazard}\n\n" + "\n".join(lines)
