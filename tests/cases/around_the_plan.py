"""Answers a case of `sheet/` that asks for more than a number: a window, a fit, a saving, supplies, a tube's time.

Each question is written out in words of the ward and put to one module of the rules. Nothing here knows a rule.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, fields, replace
from datetime import datetime
from typing import Any
from weakref import WeakKeyDictionary
from zoneinfo import ZoneInfo

from bedside.exchange.directory_file import built_in_text

Json = dict[str, Any]
Find = Callable[[str], Any]

_directories: WeakKeyDictionary[Any, Any] = WeakKeyDictionary()


def window(given: Json, book: Any, find: Find) -> Json:
    """A window with its ends in UTC, how it stands at `now`, and how far beside it `drawn_at` lies, in seconds."""
    windows = find("windows")
    zone, moments = ZoneInfo(given.get("zone", "UTC")), {"due_from", "due_to", "dose_at", "infusion_end_at", "first_at"}
    asked = {
        name: datetime.fromisoformat(value).astimezone(zone) if name in moments else value
        for name, value in given.items()
        if name in {field.name for field in fields(windows.Ordered)}
    }
    found = windows.window_of(windows.Ordered(**{"timing": "", "priority": "routine", **asked}), zone, book.limits)
    told = {
        "window": _span(found.window),
        "follows": found.follows,
        "why": found.why,
        "is_level": found.is_level,
        "lacks": found.lacks,
        "own": found.own and _span(found.own),
    }
    if "now" in given:
        told["stands"] = windows.stands(found, datetime.fromisoformat(given["now"]), book.limits)
    if "drawn_at" in given:
        told["beside_s"] = windows.drawn_beside(found, datetime.fromisoformat(given["drawn_at"])).total_seconds()
    return told


def _span(found: Any) -> list[str]:
    ends = (found.earliest, found.aim, found.latest)
    return [end.astimezone(ZoneInfo("UTC")).isoformat(timespec="minutes").removesuffix("+00:00") for end in ends]


def fit(given: Json, book: Any, find: Find) -> Json:
    """Which tests fit and which wait; `pressing` by test, `allowed_ml` by a named person."""
    request = _request(given, find)
    found = find("fitting").fit(request, given.get("pressing", {}), _directory(find), book)
    return {
        "fits": list(found.fits),
        "waits": list(found.waits),
        "total_ml": found.plan.total_ml,
        "findings": [finding.code for finding in found.plan.findings],
    }


def saving(given: Json, book: Any, find: Find) -> Json:
    """What the plan saves, and what its blood may mean."""
    request, directory = _request(given, find), _directory(find)
    plan = find("tubes").plan_tubes(request, directory, book)
    told: Json = find("saving").saving(plan, request, directory, book).as_json()
    return told


def good(given: Json, book: Any, find: Find) -> Json:
    """How a tube is kept, its clocks as [what, from, within], and what it needed of `kept` and did not get.

    `in_lab_min` stands for what a laboratory's own directory says of the tests.
    """
    directory = _directory(find)
    tests = [directory.find(code) for code in given["tests"]]
    if "in_lab_min" in given:
        tests = [replace(test, in_lab_min=given["in_lab_min"]) for test in tests]
    found = find("good_until").good_until(given["kind"], tests, given.get("handling", []), book.limits)
    told = found.as_json()
    at = datetime(2026, 11, 25, 5, 0)
    return {
        "keep": told["keep"],
        "keep_says": told["keep_says"],
        "clocks": [[clock["what"], clock["from_min"], clock["within_min"]] for clock in told["clocks"]],
        "says": [clock["says"] for clock in told["clocks"]],
        "source": [clock["source"] for clock in told["clocks"]],
        "by": [end and f"{end:%H:%M}" for end in (clock.by(at) for clock in found.clocks)],
        "in_lab_within_min": found.in_lab_within_min(),
        "not_kept": list(found.not_kept(given.get("kept", []))),
    }


def supplies(given: Json, book: Any, find: Find) -> Json:
    """Each line of the list as [item, needed, spare, take, beds], and its words."""
    module = find("supplies")
    visits = [
        module.Stopping(
            **{"needle": "straight", **visit, "tubes": tuple(module.TubeNeeded(**tube) for tube in visit["tubes"])}
        )
        for visit in given["visits"]
    ]
    lines = module.supplies_of(visits, book)
    return {
        "lines": [[line.item, line.count, line.spare, line.take, list(line.beds)] for line in lines],
        "what": [line.what for line in lines],
    }


def refusal(given: Json, book: Any, find: Find) -> Json:
    """The ward's words for a laboratory's reason; none for a code that is none."""
    return {"says": find("refusals").REFUSALS.get(given["code"])}


def own_sizes(given: Json, book: Any, find: Find) -> Json:
    """The sizes of a laboratory's table for a patient; `wrong` are the lines and columns that cannot be used."""
    module = find("container_sizes")
    sizes, wrong = module.read_sizes(list(enumerate(given["table"], start=1)), book.containers)
    mine = module.sizes_of(sizes, given.get("kind", ""), is_child=given.get("is_child", False))
    return {
        "sizes": [{**asdict(size), "says": str(size)} for size in mine],
        "wrong": [[problem.line, problem.column] for problem in wrong],
        "values": [problem.value for problem in wrong],
    }


ASKS: Mapping[str, Callable[[Json, Any, Find], Json]] = {
    "window": window, "fit": fit, "saving": saving, "good": good, "supplies": supplies, "refusal": refusal,
    "own_sizes": own_sizes,
}  # fmt: skip


def _request(given: Json, find: Find) -> Any:
    asked = {"now": "2026-11-25T05:00:00Z", "patient": {}, **given}
    request = find("tube_request").read_tube_request(asked)
    return replace(request, patient=replace(request.patient, allowed_ml=given.get("allowed_ml")))


def _directory(find: Find) -> Any:
    """The built-in directory, read once by the rules that are asked."""
    module = find("directory")
    if module not in _directories:
        _directories[module] = module.read_directory(built_in_text())
    return _directories[module]
