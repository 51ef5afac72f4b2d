"""Turn the short cases of this folder into whole inputs: of `bedside judge`, of `bedside tubes`, or of the rule sheet.

The shorthand is described in README.md. Nothing here knows a rule: a case is only written out in full,
so that every judge, in whatever language, is asked exactly the same question.
"""

from __future__ import annotations

import copy
import csv
import io
import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

SHARED = Path(__file__).parent / "shared" / "morning.json"
MERGED = ("patient", "limits")
EDITS = ("until", "without", "change", "retime", "set", "before", "after", "then")
LISTED = ("patient", "needle", "tubes", "cancelled", "limits")
KNOWN = {
    *("name", "source", "expect", "doubt", "from", "tube", "next", "now", "put", "remove"),
    *("late", "arrival", "repeat", "forge"),
    *EDITS,
    *LISTED,
}
ASKED_OF_THE_SHEET = {"name", "source", "expect", "doubt", "limit", "sizes", "formula", "ask", "given"}

Json = dict[str, Any]


class CaseUnclear(ValueError):
    """A case points at something that is not there, so it would not test what it says."""


@dataclass(frozen=True, slots=True)
class ExpandedCase:
    """One question put to a judge, and the answer that the contract gives."""

    name: str
    source: str
    case_json: Json
    expect: Json
    doubt: str | None = None
    command: str = "judge"
    directory: str | None = None
    """The test directory (CSV text) that a plan is made with; None is the built-in one."""


def load(path: Path | str) -> list[ExpandedCase]:
    """Return the cases of one file, written out in full."""
    told = json.loads(Path(path).read_text(encoding="utf-8"))
    shared = json.loads(SHARED.read_text(encoding="utf-8"))
    shared["histories"] = {**shared["histories"], **told.get("histories", {})}
    command = told.get("command", "judge")
    write_out = {"judge": _judge_input, "tubes": _tubes_input, "sheet": _sheet_input}[command]
    return [
        ExpandedCase(
            name=case["name"],
            source=case["source"],
            case_json=write_out(case, told.get("base", {}), shared),
            expect=case["expect"],
            doubt=case.get("doubt"),
            command=command,
            directory=_whole_directory(told) if "directory" in told else None,
        )
        for case in told["cases"]
    ]


def _judge_input(case: Json, base: Json, shared: Json) -> Json:
    unknown = set(case) - KNOWN
    if unknown:
        raise CaseUnclear(f"{case['name']}: the shorthand has no word {sorted(unknown)}. See README.md.")
    whole = _over(_over(shared["base"], base), case)
    events = _events(whole, shared)
    now = whole.get("now") or max((event["at"] for event in events), key=_instant, default="05:00:00")
    told = {key: whole[key] for key in LISTED if key in whole}
    told["tubes"] = _tubes(whole, shared["shelf"])
    told["now"] = _moment(now, shared["day"])
    told["events"] = _arrival(events, whole)
    if whole.get("next") is not None:
        told["next"] = _next(whole["next"], told["now"], shared["event"])
    return _nonsense(told, whole)


def _tubes_input(case: Json, base: Json, shared: Json) -> Json:
    told = _over(base, case)
    for key in ("name", "source", "expect", "doubt"):
        told.pop(key, None)
    if "now" in told:
        told["now"] = _moment(told["now"], shared["day"])
    return _nonsense({k: v for k, v in told.items() if k not in ("put", "remove")}, told)


def _whole_directory(told: Json) -> str:
    """The tests a file brings, and below them its sizes and what it keeps apart."""
    return "".join(_directory_text(told[table]) for table in ("directory", "sizes", "keeps_apart") if table in told)


def _directory_text(rows: list[Json]) -> str:
    columns = list(dict.fromkeys(column for row in rows for column in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _sheet_input(case: Json, base: Json, shared: Json) -> Json:
    asked = set(case) & {"limit", "sizes", "formula", "ask"}
    if len(asked) != 1 or set(case) - ASKED_OF_THE_SHEET:
        raise CaseUnclear(
            f"{case['name']}: a case asks for one limit, one container's sizes, one formula, or one thing more."
        )
    return {word: case[word] for word in (*asked, "given") if word in case}


def _over(under: Json, over: Json) -> Json:
    """Lay one case over another: patient and limits key by key, everything else whole."""
    told = copy.deepcopy(under)
    for key, value in over.items():
        merge = key in MERGED and isinstance(value, dict)
        told[key] = {**told.get(key, {}), **value} if merge else copy.deepcopy(value)
    return told


def _moment(text: str, day: str) -> str:
    """`05:12:40` or `05:12:40.120` on the day of the cases; anything with a date stays as it is."""
    if "T" in text or len(text) not in (8, 12) or text[2] != ":":
        return text
    return f"{day}T{text if len(text) == 12 else text + '.000'}Z"


def _instant(at: str) -> datetime:
    return datetime.fromisoformat(at)


def _tubes(whole: Json, shelf: Json) -> list[Any]:
    tubes = [{"id": tube, **shelf[tube]} if isinstance(tube, str) else tube for tube in whole["tubes"]]
    changes = whole.get("tube", {})
    missing = set(changes) - {tube["id"] for tube in tubes}
    if missing:
        raise CaseUnclear(f"{whole['name']}: no tube {sorted(missing)} to change.")
    return [{**tube, **changes.get(tube["id"], {})} for tube in tubes]


def _events(whole: Json, shared: Json) -> list[Json]:
    """The history of a case: full bodies with id, tablet and seq, in the order they were recorded."""
    lines = _history(whole.get("from", "nothing yet"), shared["histories"])
    lines = _edited(lines, whole)
    seqs: dict[str, int] = {}
    events = []
    for position, line in enumerate(lines, start=1):
        event = {"id": f"e{position:02d}", **shared["event"], **line}
        event["at"] = _moment(event["at"], shared["day"])
        seqs[event["tablet"]] = seqs.get(event["tablet"], 0) + 1
        events.append({**event, "seq": event.get("seq", seqs[event["tablet"]])})
    return events


def _history(name: str, histories: Json) -> list[Json]:
    if name not in histories:
        raise CaseUnclear(f"There is no history called {name!r}.")
    told = histories[name]
    if isinstance(told, list):
        return [_line(line) for line in told]
    return _edited(_history(told["from"], histories), told)


def _line(short: list[Any]) -> Json:
    """`[time, kind, data, more]`; data and more may be left out."""
    at, kind, data, more = [*short, None, None][:4]
    return {"at": at, "kind": kind, "data": copy.deepcopy(data or {}), **copy.deepcopy(more or {})}


def _edited(lines: list[Json], edits: Json) -> list[Json]:
    """Apply the edits in the order of EDITS, refusing to edit an event that is not there."""
    lines = copy.deepcopy(lines)
    if "until" in edits:
        lines = lines[: _place(lines, edits["until"]) + 1]
    for gone in edits.get("without", []):
        del lines[_place(lines, gone)]
    for where, data in edits.get("change", {}).items():
        lines[_place(lines, where)]["data"].update(data)
    for where, at in edits.get("retime", {}).items():
        lines[_place(lines, where)]["at"] = at
    for where, more in edits.get("set", {}).items():
        lines[_place(lines, where)].update(more)
    for where, added in edits.get("before", {}).items():
        place = _place(lines, where)
        lines[place:place] = [_line(short) for short in added]
    for where, added in edits.get("after", {}).items():
        place = _place(lines, where) + 1
        lines[place:place] = [_line(short) for short in added]
    return lines + [_line(short) for short in edits.get("then", [])]


def _place(lines: list[Json], event_id: str) -> int:
    for place, line in enumerate(lines):
        if line.get("id") == event_id:
            return place
    raise CaseUnclear(f"There is no event {event_id!r} in this history.")


def _arrival(events: list[Json], whole: Json) -> list[Json]:
    """The order in which the judge is told, which must not matter."""
    late = [events[_place(events, where)] for where in whole.get("late", [])]
    told = [event for event in events if event not in late] + late
    for where in whole.get("repeat", []):
        told.append(copy.deepcopy(events[_place(events, where)]))
    for where, data in whole.get("forge", {}).items():
        told.append({**copy.deepcopy(events[_place(events, where)]), "data": data})
    return told[::-1] if whole.get("arrival") == "reversed" else told


def _next(short: list[Any], now: str, event: Json) -> Json:
    kind, data, more = [*short, None, None][:3]
    return {**event, "kind": kind, "at": now, "data": data or {}, **(more or {})}


def _nonsense(told: Json, whole: Json) -> Json:
    """Put or remove single values by dotted path, for the cases about bad input."""
    for path, value in whole.get("put", {}).items():
        holder, key = _held(told, path)
        holder[key] = value
    for path in whole.get("remove", []):
        holder, key = _held(told, path)
        del holder[key]
    return told


def _held(told: Json, path: str) -> tuple[Json, str]:
    *steps, key = path.split(".")
    holder: Any = told
    for step in steps:
        holder = holder[step] if isinstance(holder, dict) else next(e for e in holder if e.get("id") == step)
    return holder, key
