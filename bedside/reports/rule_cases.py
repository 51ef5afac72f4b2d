"""The rule cases as a document that a safety officer can read, check and sign. Pure: contents of files in, text out."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from bedside.clinical.rulebook import Rulebook

Json = dict[str, Any]

HEAD = """# Rule cases

What this edition of Bedside says about {count} situations at a bedside, reasoned from the sources named with each.
The server's rules are held against every one of them, and the tablet's against every visit.

The rulebook: `{hash}`.

Bedside supports trained, authorised staff. Local policy, law and the judgement of licensed practitioners come first;
its limits are the site's to set and to sign. A case that does not fit this house is a reason not to use it as it is."""

FOOT = """## Read and agreed

| name | role | date | signature |
|---|---|---|---|
| | | | |
| | | | |
"""

FIGURES = {
    "tourniquet_longest_s": ("the longest tourniquet", " s"),
    "pressure_s": ("pressure", " s"),
    "volume_ml": ("blood drawn", " mL"),
    "limit_ml": ("limit for this visit", " mL"),
    "total_ml": ("blood to be drawn", " mL"),
}


def document(topics: Mapping[str, Json], shared: Json, book: Rulebook) -> str:
    """The whole document: the histories the cases start from, every case, what the codes mean, and room to sign.

    topics: a file's name -> what it holds. shared: the patient, the tubes and the histories of all.
    """
    count = sum(len(topic["cases"]) for topic in topics.values())
    blocks = [HEAD.format(count=count, hash=book.hash), *_histories(shared)]
    for name, topic in topics.items():
        blocks += [f"## {name}\n\n{topic['about']}", *_topic_start(topic)]
        blocks += [_case(number, case) for number, case in enumerate(topic["cases"], start=1)]
    return "\n\n".join([*blocks, _codes(book), FOOT.strip()])


def _histories(shared: Json) -> Iterator[str]:
    yield f"## Where the cases start\n\n{shared['about']}"
    yield "Unless a case says otherwise:\n\n" + _bullets(_said(shared["base"]))
    tubes = "\n".join(f"| {name} | {_value(tube)} |" for name, tube in shared["shelf"].items())
    yield f"### The tubes\n\n| tube | |\n|---|---|\n{tubes}"
    yield from (_history(name, told) for name, told in shared["histories"].items())


def _history(name: str, told: list[Any] | Json) -> str:
    told = {"then": told} if isinstance(told, list) else told
    return f"### History: {name}\n\n{_bullets(_said(told)) or '- Nothing has happened.'}"


def _topic_start(topic: Json) -> Iterator[str]:
    if topic.get("base"):
        yield "Unless a case of this topic says otherwise:\n\n" + _bullets(_said(topic["base"]))
    yield from (_history(name, told) for name, told in topic.get("histories", {}).items())


def _case(number: int, case: Json) -> str:
    given = {name: value for name, value in case.items() if name not in ("name", "source", "doubt", "expect")}
    lines = [*_said(given), *(f"**{line}**" for line in _expected(case["expect"]))]
    lines.append(f"Source: {case['source']}")
    if case.get("doubt"):
        lines.append(f"Open to doubt: {case['doubt']}")
    return f"### {number}. {case['name']}\n\n{_bullets(lines)}"


def _bullets(lines: Iterable[str]) -> str:
    return "\n".join(f"- {line}" for line in lines)


# ---- what is given


def _said(given: Json) -> Iterator[str]:
    for name, value in given.items():
        yield from _SAID[name](value) if name in _SAID else [f"{name}: {_value(value)}"]


def _events(lead: str, lines: Iterable[list[Any]]) -> Iterator[str]:
    for line in lines:
        at, kind, data, more = [*line, None, None][:4]
        known = {name: value for name, value in (more or {}).items() if name != "id"}
        name = f" (*{more['id']}*)" if more and "id" in more else ""
        rest = "; ".join(_value(part) for part in (data, known) if part)
        yield f"{lead}{at} {kind}{name}{': ' + rest if rest else ''}"


def _each_event(words: str) -> Callable[[Json], Iterator[str]]:
    return lambda told: (f"*{event}* {words}{_value(value)}" for event, value in told.items())


def _around(words: str) -> Callable[[Json], Iterator[str]]:
    return lambda told: (line for event, lines in told.items() for line in _events(f"{words} *{event}*: ", lines))


def _names(words: str) -> Callable[[Iterable[str]], Iterator[str]]:
    return lambda names: iter([f"{words}{', '.join(f'*{name}*' for name in names)}"])


def _next(told: list[Any] | None) -> Iterator[str]:
    if told is None:
        yield "Nothing is about to happen"
    else:
        yield from _events("About to happen: ", [["", *told]])


_SAID: Mapping[str, Callable[[Any], Iterable[str]]] = {
    "from": lambda name: [f"Starts from the history *{name}*"],
    "until": lambda event: [f"It stops after *{event}*"],
    "without": _names("Did not happen: "),
    "change": _each_event("was otherwise: "),
    "retime": _each_event("happened at "),
    "set": _each_event("was recorded otherwise: "),
    "before": _around("Before"),
    "after": _around("After"),
    "then": lambda lines: _events("", lines),
    "late": _names("Reached the judge last: "),
    "arrival": lambda how: [f"Events reached the judge {how}"],
    "repeat": _names("Reached the judge twice: "),
    "forge": _each_event("came again with the same id and other data: "),
    "patient": lambda told: [f"Patient: {_value(told)}"],
    "limits": lambda told: [f"Limits: {_value(told)}"],
    "tubes": lambda tubes: [f"Tubes: {', '.join(_value(tube) for tube in tubes) or 'none'}"],
    "tube": _each_event("is another tube: "),
    "tests": lambda tests: [f"Tests: {_value(tests)}"],
    "cancelled": lambda told: ["The order was cancelled" if told is True else f"Cancelled: {_value(told)}"],
    "next": _next,
    "now": lambda at: [f"Asked at {_value(at)}"],
    "limit": lambda name: [f"The book's limit `{name}`"],
    "sizes": lambda kind: [f"The sizes in which `{kind}` is stocked, in mL"],
    "formula": lambda name: [f"The formula `{name}`"],
    "given": lambda values: [f"Given {_value(values) if isinstance(values, dict) else ', '.join(map(_value, values))}"],
    "put": _each_event("of the input is "),
    "remove": _names("Missing from the input: "),
}


def _value(value: Any) -> str:
    """A value in words where that is short, else as it stands in the file."""
    if isinstance(value, dict):
        return ", ".join(f"{name} {_value(one)}" for name, one in value.items()) or "nothing"
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    return value if isinstance(value, str) and value else json.dumps(value, ensure_ascii=False)


# ---- what is expected


def _expected(expect: Json) -> Iterator[str]:
    for name, value in expect.items():
        if name in FIGURES:
            words, unit = FIGURES[name]
            yield f"{words}: {'none' if value is None else f'{value:g}{unit}'}"
        else:
            yield from _EXPECTED[name](value) if name in _EXPECTED else [f"{name}: {_value(value)}"]


def _found(wanted: list[Any] | str) -> str:
    code, severity, about = [*([wanted] if isinstance(wanted, str) else wanted), None, None][:3]
    return f"`{code}`{f' as {severity}' if severity else ''}{f' about *{about}*' if about else ''}"


_EXPECTED: Mapping[str, Callable[[Any], Iterable[str]]] = {
    "findings": lambda all: [f"Found: {'; '.join(map(_found, all))}; nothing else" if all else "Nothing is found"],
    "has": lambda some: [f"Found, beside others: {'; '.join(map(_found, some))}"],
    "lacks": lambda none: [f"Not found: {'; '.join(map(_found, none))}"],
    "count": lambda told: [f"So many findings: {_value(told)}"],
    "stage": lambda word: [f"The visit is *{word}*"],
    "words": lambda told: [
        f"`{code}` {name}: “{text}”" for code, texts in told.items() for name, text in texts.items()
    ],
    "may_end": lambda may: ["The visit may end as collected" if may else "The visit may not end as collected"],
    "value": lambda value: [f"It is {_value(value)}"],
    "refused": lambda _: ["It is refused"],
    "bad_input": lambda text: [f"Refused as bad input, naming `{text}`"],
}


# ---- what the codes mean


def _codes(book: Rulebook) -> str:
    rows = [
        f"| `{code}` | {severity.value} | {book.filled(words.says)} {book.filled(words.do_next)} | {kind.source} |"
        for code, kind in book.findings.items()
        for severity, words in kind.wording.items()
    ]
    return "## What the codes say\n\n| code | severity | words | source |\n|---|---|---|---|\n" + "\n".join(rows)
