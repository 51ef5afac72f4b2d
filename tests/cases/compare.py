"""Hold a verdict against what a case expects. Pure; says in words what differs, or nothing."""

from __future__ import annotations

from typing import Any

Json = dict[str, Any]

FIGURES = ("tourniquet_longest_s", "pressure_s", "volume_ml", "limit_ml", "total_ml")
CLOSE = 0.0005


def differences(expect: Json, verdict: Json) -> list[str]:
    """Return one sentence for each way in which the verdict is not what the case expects."""
    found = [(f["code"], f["severity"], f.get("event")) for f in verdict["findings"]]
    told = []
    if "findings" in expect and not _exactly(expect["findings"], found):
        told.append(f"findings: expected exactly {expect['findings']}, got {found}")
    for wanted in expect.get("has", []):
        if not any(_fits(wanted, finding) for finding in found):
            told.append(f"has: {wanted} is not among {found}")
    for unwanted in expect.get("lacks", []):
        unwanted = [unwanted] if isinstance(unwanted, str) else unwanted
        if any(_fits(unwanted, finding) for finding in found):
            told.append(f"lacks: {unwanted} is among {found}")
    for code, number in expect.get("count", {}).items():
        if (got := sum(finding[0] == code for finding in found)) != number:
            told.append(f"count: expected {number} of {code}, got {got}")
    if "may_end" in expect and verdict["may_end"] is not expect["may_end"]:
        told.append(f"may_end: expected {expect['may_end']}, got {verdict['may_end']}")
    told += [_figure(name, expect[name], verdict[name]) for name in FIGURES if name in expect]
    return [sentence for sentence in told if sentence]


def refusal_differs(expect: Json, exit_status: int, stdout: str, stderr: str) -> list[str]:
    """The same for bad input: status 2, one line that names the field or the value, no answer."""
    told = []
    if exit_status != 2:
        told.append(f"exit status: expected 2, got {exit_status}")
    if stdout:
        told.append(f"standard output: expected nothing, got {stdout!r}")
    if len(stderr.splitlines()) != 1:
        told.append(f"standard error: expected one line, got {stderr!r}")
    if expect["bad_input"] not in stderr:
        told.append(f"standard error: expected {expect['bad_input']!r} in {stderr!r}")
    return told


def _fits(wanted: list[Any], finding: tuple[Any, ...]) -> bool:
    return tuple(wanted) == finding[: len(wanted)]


def _exactly(expected: list[list[Any]], found: list[tuple[Any, ...]]) -> bool:
    """Match in order: three words are one finding, two words are one or more about whatever events."""
    left = list(found)
    for wanted in expected:
        if not left or not _fits(wanted, left.pop(0)):
            return False
        while len(wanted) == 2 and left and _fits(wanted, left[0]):
            left.pop(0)
    return not left


def _figure(name: str, expected: float | None, got: float | None) -> str | None:
    if None in (expected, got):
        return None if expected is got else f"{name}: expected {expected}, got {got}"
    return None if abs(expected - got) <= CLOSE else f"{name}: expected {expected}, got {got}"
