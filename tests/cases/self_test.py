"""Choose the cases a tablet puts to its own judge whenever rules or app are new.

`python -m tests.cases.self_test` writes them down; a test proves that what is written down is exactly this choice.

The rule of the choice, over every case of this folder that a visit's judge answers, the shortest first:

1. each finding code at each severity it is given, `OF_EACH` times;
2. each limit the judge reads, moved by one unit either way: a case whose verdict that changes, so one at its edge.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bedside.exchange
from bedside.clinical.case import Case, read_case
from bedside.clinical.judge import Verdict, judge
from bedside.clinical.limits import LIMITS, Limit
from bedside.clinical.rulebook import default_book
from tests.cases.files import answered

OF_EACH = 2
FILE = Path(bedside.exchange.__file__).parent / "self_test_cases.json"

Json = dict[str, Any]


def chosen() -> dict[str, Json]:
    """The cases by name, in the order of the folder."""
    cases = {name: case.case_json for name, case in answered("judge").items()}
    shortest = sorted(cases, key=lambda name: (len(_text(cases[name])), name))
    told = {name: _Told.of(cases[name]) for name in shortest}
    wanted = {*_of_each_finding(told), *_at_each_edge(told)}
    return {name: case for name, case in cases.items() if name in wanted}


def written(cases: dict[str, Json]) -> Json:
    """The cases as the file holds them: what several of them share stands once, and they name its place."""
    shared: dict[str, int] = {}

    def place(thing: Any) -> int:
        return shared.setdefault(_text(thing), len(shared))

    told = [{"name": name, "case": _shortened(case, place)} for name, case in cases.items()]
    return {"shared": [json.loads(text) for text in shared], "cases": told}


def _shortened(case: Json, place: Callable[[Any], int]) -> Json:
    whole = {"patient": place, "tubes": place, "events": lambda events: [place(event) for event in events]}
    return {key: whole[key](value) if key in whole else value for key, value in case.items()}


class _Watched(dict[str, Limit]):
    """Limits that remember which of them were read."""

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        super().__init__(limits)
        self.read: set[str] = set()

    def __getitem__(self, name: str) -> Limit:
        self.read.add(name)
        return super().__getitem__(name)


@dataclass(frozen=True)
class _Told:
    """A case as it was read, what this release's book says of it, and the limits it says that by."""

    case: Case
    verdict: Verdict
    limits: frozenset[str]

    @classmethod
    def of(cls, told: Json) -> _Told:
        book = default_book()
        watched = _Watched(book.limits)
        case = read_case(told)
        return cls(case=case, verdict=judge(case, replace(book, limits=watched)), limits=frozenset(watched.read))


def _of_each_finding(told: Mapping[str, _Told]) -> Iterator[str]:
    seen: Counter[tuple[str, str]] = Counter()
    for name, one in told.items():
        found = {(finding.code, finding.severity) for finding in one.verdict.findings}
        if any(seen[each] < OF_EACH for each in found):
            yield name
            seen.update(found)


def _at_each_edge(told: Mapping[str, _Told]) -> Iterator[str]:
    """The limits of the tube plan are another page of the book: a visit's judge does not read them."""
    book = default_book()
    for limit, one in LIMITS.items():
        asked = [name for name in told if limit in told[name].limits]
        for step in (-1, 1):
            moved = replace(book, limits={**book.limits, limit: replace(one, value=one.value + step)})
            changed = (name for name in asked if _answer(told[name].verdict) != _answer(judge(told[name].case, moved)))
            yield from [name for name in [next(changed, None)] if name]


def _answer(verdict: Verdict) -> Any:
    return [(one.code, one.severity, one.event) for one in verdict.findings], verdict.may_end


def _text(thing: Any) -> str:
    return json.dumps(thing, ensure_ascii=False, separators=(",", ":"))


def as_text(cases: dict[str, Json]) -> str:
    """The file's text: a line for each thing shared and each case, so that a change is read as a change."""
    told = written(cases)
    lines = {name: ",\n".join(_text(one) for one in told[name]) for name in ("shared", "cases")}
    return '{"shared":[\n' + lines["shared"] + '\n],"cases":[\n' + lines["cases"] + "\n]}\n"


if __name__ == "__main__":
    FILE.write_text(as_text(chosen()), encoding="utf-8")
