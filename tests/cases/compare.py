"""Hold a verdict against what a case expects. Pure; says in words what differs, or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from fnmatch import fnmatchcase
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
    if "stage" in expect and verdict["stage"] != expect["stage"]:
        told.append(f"stage: expected {expect['stage']}, got {verdict['stage']}")
    told += _words_differ(expect.get("words", {}), verdict["findings"])
    told += [_figure(name, expect[name], verdict[name]) for name in FIGURES if name in expect]
    return [sentence for sentence in told if sentence]


def plan_differences(expect: Json, plan: Json) -> list[str]:
    """The same for an answer of `bedside tubes`."""
    told = differences({**expect, "may_end": None}, {**plan, "may_end": None})
    tubes = plan["tubes"]
    kinds = [tube["kind"] for tube in tubes]
    wanted = expect.get("kinds", kinds)
    if len(wanted) != len(kinds) or not all(map(_is_kind, wanted, kinds)):
        told.append(f"kinds: expected {wanted}, got {kinds}")
    if [tube["position"] for tube in tubes] != list(range(1, len(tubes) + 1)):
        told.append(f"positions: expected 1, 2, 3 …, got {[tube['position'] for tube in tubes]}")
    for pattern, volume in expect.get("draw_ml", {}).items():
        told.append(_figure(f"draw_ml of {pattern}", volume, _tube(tubes, pattern).get("draw_ml")))
    for pattern, volume in expect.get("nominal_ml", {}).items():
        told.append(_figure(f"nominal_ml of {pattern}", volume, _tube(tubes, pattern).get("nominal_ml")))
    told += [
        _values(f"tests in {kind}", tests, _tube(tubes, kind).get("tests")) for kind, tests in _of(expect, "tests_in")
    ]
    told += [
        _values(f"handling of {kind}", words, _tube(tubes, kind).get("handling"))
        for kind, words in _of(expect, "handling_is")
    ]
    told += [
        _values(f"{name} of {kind}", value, _tube(tubes, kind).get(name))
        for kind, values in _of(expect, "says")
        for name, value in values.items()
    ]
    if "by_position" in expect:
        told.append(_values("tests by position", expect["by_position"], [tube["tests"] for tube in tubes]))
    for pattern, words in expect.get("handling", {}).items():
        if not set(words) <= set(got := _tube(tubes, pattern).get("handling", [])):
            told.append(f"handling of {pattern}: expected {words} among {got}")
    for pattern, by in expect.get("in_lab_by", {}).items():
        if not _same_time(by, got := _tube(tubes, pattern).get("in_lab_by")):
            told.append(f"in_lab_by of {pattern}: expected {by}, got {got}")
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


def _is_kind(pattern: str, kind: str) -> bool:
    """`serum*` is any serum tube; `serum*|heparin*` any serum or heparin tube."""
    return any(fnmatchcase(kind, choice) for choice in pattern.split("|"))


def _of(expect: Json, word: str) -> Iterable[tuple[str, Any]]:
    return expect.get(word, {}).items()


def _values(name: str, expected: Any, got: Any) -> str | None:
    return None if expected == got else f"{name}: expected {expected}, got {got}"


def _tube(tubes: list[Json], pattern: str) -> Json:
    return next((tube for tube in tubes if _is_kind(pattern, tube["kind"])), {})


def _same_time(expected: str | None, got: str | None) -> bool:
    if None in (expected, got):
        return expected is got
    return datetime.fromisoformat(expected) == datetime.fromisoformat(got)


def _fits(wanted: list[Any], finding: tuple[Any, ...]) -> bool:
    return tuple(wanted) == finding[: len(wanted)]


def _words_differ(wanted: dict[str, Json], findings: list[Json]) -> list[str]:
    """The texts of every finding of a code: only those a case writes out are held against it."""
    return [
        f"words of {code}: expected {name} {text!r}, got {finding.get(name)!r}"
        for code, texts in wanted.items()
        for finding in findings
        for name, text in texts.items()
        if finding["code"] == code and finding.get(name) != text
    ]


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
