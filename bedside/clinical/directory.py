"""The laboratory's test directory: which test needs which container, how much blood, and what care.

Text in, `Directory` out; every bad cell is named by line and column. Where the text comes from is not
decided here (`bedside.exchange.directory_file` reads files).
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import ClassVar

from bedside.clinical.rulebook_volumes import NOMINAL_ML

CULTURE_KINDS = ("culture-aerobic", "culture-anaerobic", "culture-paediatric")
CROSSMATCH_KIND = "edta-crossmatch"
HEPARIN_KINDS = ("heparin", "heparin-gel")
GEL_KINDS = ("serum-gel", "heparin-gel")

HANDLING_WORDS = ("ice", "37C", "protect-from-light", "full-draw", "no-gel", "to-lab-at-once")
TIMING_WORDS = ("trough", "peak", "peak-or-trough", "serial", "load", "morning", "after-6h", "after-12h")

REQUIRED_COLUMNS = ("code", "name", "section", "containers", "min_ml", "source")
COLUMNS = (
    "code",
    "loinc",
    "name",
    "short",
    "ucum",
    "section",
    "containers",
    "min_ml",
    "full_draw",
    "handling",
    "hurry_in",
    "in_lab_min",
    "timing",
    "apart",
    "source",
)

# Nikolac 2013 Table 4 (practice TD-14): chilling makes potassium useless, alone and inside a panel.
HOLDS_POTASSIUM = frozenset({"2823-3", "24321-2", "24323-8", "24326-1"})
# Practice section 14 row 52, from memory: the tube's own lithium would be measured.
LITHIUM = "14334-7"
# Nikolac 2013 Table 4 (practice TD-14, TD-15, TD-16): what each of these needs.
CARE_BY_LOINC: Mapping[str, str] = {
    "16362-6": "ice",
    "32693-4": "ice",
    "2731-8": "ice",
    "13965-9": "ice",
    "5117-7": "37C",
    "1975-2": "protect-from-light",
    "1968-7": "protect-from-light",
}

CODE_SHAPE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,19}")
LOINC_SHAPE = re.compile(r"(\d{1,7})-(\d)")
WORD_SHAPE = re.compile(r"[a-z0-9][a-z0-9-]{0,19}")
NUMBER_SHAPE = re.compile(r"\d{1,4}(\.\d{1,3})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One line of the directory.

    containers: the acceptable kinds, the preferred one first (culture bottles: all that belong together).
    min_ml: the least blood to draw for it, in mL (lower end of a range); 0 for a culture, whose bottles the
        rulebook fills.
    hurry_in: the kinds in which it must go to the laboratory at once.
    in_lab_min: minutes from the draw within which the laboratory must have it, or None.
    apart: shares a container only with tests of the same word; empty shares with all.
    """

    __test__: ClassVar[bool] = False  # the name is the trade's; a test runner must not take it for its own

    code: str
    loinc: str = ""
    name: str
    short: str = ""
    ucum: str = ""
    section: str = ""
    containers: tuple[str, ...]
    min_ml: float
    full_draw: bool = False
    handling: frozenset[str] = frozenset()
    hurry_in: frozenset[str] = frozenset()
    in_lab_min: int | None = None
    timing: str = ""
    apart: str = ""
    source: str = ""

    @property
    def is_culture(self) -> bool:
        return self.containers[0] in CULTURE_KINDS

    @property
    def temperature(self) -> str:
        """`ice`, `37C`, or nothing: tests of two temperatures never share a container."""
        return next((word for word in ("ice", "37C") if word in self.handling), "")

    def words_in(self, kind: str) -> frozenset[str]:
        """The handling words a container of this kind carries because of this test."""
        words = set(self.handling)
        if self.full_draw:
            words.add("full-draw")
        if kind in self.hurry_in:
            words.add("to-lab-at-once")
        return frozenset(words)


@dataclass(frozen=True, slots=True)
class BadCell:
    """One cell that cannot be used: line (the first is 1), column, what stands there, and why not."""

    line: int
    column: str
    value: str
    why: str

    def __str__(self) -> str:
        return f"line {self.line}, {self.column}: {self.value!r}: {self.why}"


class DirectoryRefused(Exception):
    """The directory is taken whole or not at all; these cells stop it."""

    def __init__(self, problems: Iterable[BadCell]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


@dataclass(frozen=True)
class Directory:
    """All tests in the directory's order; `version` is the hash of the text they were read from."""

    tests: tuple[Test, ...]
    version: str

    def __post_init__(self) -> None:
        by_code = {code: place for place, test in enumerate(self.tests) for code in (test.code, test.loinc)}
        by_code.pop("", None)
        object.__setattr__(self, "_places", by_code)

    def find(self, code: str) -> Test | None:
        """The test of this LOINC code or local code, or None."""
        place = self.place(code)
        return None if place is None else self.tests[place]

    def place(self, code: str) -> int | None:
        """Where in the directory's order this code stands (0 is first), or None."""
        places: dict[str, int] = self._places  # type: ignore[attr-defined]
        return places.get(code)


# --- reading -------------------------------------------------------------------------------------------


def read_directory(text: str, sizes: Mapping[str, tuple[float, ...]] = NOMINAL_ML) -> Directory:
    """Read the directory's CSV text; `DirectoryRefused` names every bad cell.

    sizes: the container kinds this house has, each with its nominal volumes in mL.
    """
    lines = _lines(text)
    header = _header(lines)
    tests: list[Test] = []
    problems: list[BadCell] = []
    for line, values in lines[1:]:
        row = _Row(line, header, values, sizes)
        test = row.read()
        problems.extend(row.problems)
        if test is not None:
            problems.extend(_repeated(test, tests, line))
            tests.append(test)
    if problems:
        raise DirectoryRefused(problems)
    version = "sha256:" + hashlib.sha256(text.encode()).hexdigest()
    return Directory(tuple(tests), version)


def _lines(text: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    lines: list[tuple[int, list[str]]] = []
    try:
        for values in reader:
            if any(value.strip() for value in values):
                lines.append((reader.line_num, [value.strip() for value in values]))
    except csv.Error as error:
        raise DirectoryRefused([BadCell(reader.line_num, "line", "", f"not CSV ({error})")]) from error
    if not lines:
        raise DirectoryRefused([BadCell(1, "line", "", "empty; the first line names the columns")])
    return lines


def _header(lines: list[tuple[int, list[str]]]) -> list[str]:
    line, names = lines[0]
    problems = [
        BadCell(line, "columns", name, f"no such column; there are {', '.join(COLUMNS)}")
        for name in names
        if name not in COLUMNS
    ]
    problems += [
        BadCell(line, "columns", name, "this column is needed") for name in REQUIRED_COLUMNS if name not in names
    ]
    problems += [
        BadCell(line, "columns", name, "this column is named twice")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    if problems:
        raise DirectoryRefused(problems)
    return names


def _repeated(test: Test, earlier: list[Test], line: int) -> list[BadCell]:
    taken = {code for other in earlier for code in (other.code, other.loinc) if code}
    return [
        BadCell(line, column, code, "another test has this code already")
        for column, code in (("code", test.code), ("loinc", test.loinc))
        if code and code in taken
    ]


class _Row:
    """One line being read: each cell is asked for once, and what is wrong is gathered in `problems`."""

    def __init__(self, line: int, header: list[str], values: list[str], sizes: Mapping[str, tuple[float, ...]]) -> None:
        self.line = line
        self.sizes = sizes
        self.cells = dict(zip(header, values, strict=False))
        self.problems: list[BadCell] = []
        if len(values) != len(header):
            self._bad("line", ",".join(values), f"{len(values)} cells for {len(header)} columns")

    def read(self) -> Test | None:
        if self.problems:
            return None
        containers = self._containers()
        handling = self._handling()
        test = Test(
            code=self._shaped("code", CODE_SHAPE, "letters, digits, dot and hyphen, at most 20"),
            loinc=self._loinc(),
            name=self._needed("name"),
            short=self._text("short") or self._text("name"),
            ucum=self._text("ucum"),
            section=self._needed("section"),
            containers=containers,
            min_ml=self._min_ml(containers),
            full_draw=self._yes("full_draw"),
            handling=handling,
            hurry_in=self._hurry_in(containers),
            in_lab_min=self._minutes("in_lab_min"),
            timing=self._one_of("timing", TIMING_WORDS),
            apart=self._apart(),
            source=self._needed("source"),
        )
        self._harms(test)
        return None if self.problems else test

    def _bad(self, column: str, value: str, why: str) -> None:
        self.problems.append(BadCell(self.line, column, value, why))

    def _text(self, column: str) -> str:
        return self.cells.get(column, "")

    def _list(self, column: str) -> list[str]:
        return [word.strip() for word in self._text(column).split(";") if word.strip()]

    def _needed(self, column: str) -> str:
        text = self._text(column)
        if not text:
            self._bad(column, text, "this cell is needed")
        return text

    def _shaped(self, column: str, shape: re.Pattern[str], said: str) -> str:
        text = self._text(column)
        if not shape.fullmatch(text):
            self._bad(column, text, said)
        return text

    def _loinc(self) -> str:
        text = self._text("loinc")
        if text and not is_loinc(text):
            self._bad("loinc", text, "not a LOINC code (digits, hyphen, the right check digit)")
        return text

    def _yes(self, column: str) -> bool:
        text = self._text(column)
        if text not in ("", "yes", "no"):
            self._bad(column, text, "yes, no or empty")
        return text == "yes"

    def _one_of(self, column: str, words: tuple[str, ...]) -> str:
        text = self._text(column)
        if text and text not in words:
            self._bad(column, text, f"one of {', '.join(words)}, or empty")
        return text

    def _apart(self) -> str:
        text = self._text("apart")
        if text and not WORD_SHAPE.fullmatch(text):
            self._bad("apart", text, "one word of small letters, digits and hyphen, or empty")
        return text

    def _minutes(self, column: str) -> int | None:
        text = self._text(column)
        if not text:
            return None
        if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 1440:
            self._bad(column, text, "whole minutes from 1 to 1440, or empty")
            return None
        return int(text)

    def _containers(self) -> tuple[str, ...]:
        kinds = self._list("containers")
        if not kinds:
            self._bad("containers", self._text("containers"), "name at least one container kind")
        for kind in kinds:
            if kind not in self.sizes or kind == "discard":
                self._bad("containers", kind, "no such container kind for a test")
        if len(set(kinds)) != len(kinds):
            self._bad("containers", self._text("containers"), "a kind is named twice")
        for alone, said in ((CULTURE_KINDS, "culture bottles"), ((CROSSMATCH_KIND,), CROSSMATCH_KIND)):
            if 0 < sum(kind in alone for kind in kinds) < len(kinds):
                self._bad("containers", self._text("containers"), f"{said} cannot stand for another kind")
        return tuple(kinds)

    def _handling(self) -> frozenset[str]:
        words = self._list("handling")
        for word in words:
            if word == "full-draw":
                self._bad("handling", word, "write yes in the column full_draw instead")
            elif word not in HANDLING_WORDS:
                self._bad("handling", word, f"one of {', '.join(HANDLING_WORDS)}")
        return frozenset(words)

    def _hurry_in(self, containers: tuple[str, ...]) -> frozenset[str]:
        kinds = self._list("hurry_in")
        for kind in kinds:
            if kind not in containers:
                self._bad("hurry_in", kind, "not one of this test's containers")
        return frozenset(kinds)

    def _min_ml(self, containers: tuple[str, ...]) -> float:
        text = self._text("min_ml")
        if containers and set(containers) <= set(CULTURE_KINDS):
            if text:
                self._bad("min_ml", text, "leave it empty: the rulebook says how much a culture bottle takes")
            return 0.0
        if not NUMBER_SHAPE.fullmatch(text) or float(text) <= 0:
            self._bad("min_ml", text, "millilitres above 0, with a point and at most three decimals")
            return math.nan
        for kind in containers:
            largest = max(self.sizes.get(kind, (math.inf,)))
            if float(text) > largest:
                self._bad("min_ml", text, f"the largest {kind} holds {largest:g} mL")
        return float(text)

    def _harms(self, test: Test) -> None:
        """Refuse a line whose cells are each readable and together spoil the specimen."""
        if {"ice", "37C"} <= test.handling:
            self._bad("handling", self._text("handling"), "ice and 37C exclude each other")
        if "ice" in test.handling and test.loinc in HOLDS_POTASSIUM:
            self._bad("handling", "ice", "chilled blood gives a false potassium (Nikolac 2013 Table 4)")
        if test.loinc == LITHIUM and any(kind in HEPARIN_KINDS for kind in test.containers):
            self._bad("containers", self._text("containers"), "lithium is never drawn into lithium heparin")
        if "no-gel" in test.handling and any(kind in GEL_KINDS for kind in test.containers):
            self._bad("containers", self._text("containers"), "this test takes no gel")


def is_loinc(code: str) -> bool:
    """Report whether the code has LOINC's shape and its check digit (modulus 10, doubling from the right)."""
    found = LOINC_SHAPE.fullmatch(code) if code.isascii() else None
    if found is None:
        return False
    digits, check = found.groups()
    doubled = [int(digit) * (2 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits))]
    return (10 - sum(value - 9 if value > 9 else value for value in doubled) % 10) % 10 == int(check)


# --- what is read afterwards ---------------------------------------------------------------------------


def cautions(directory: Directory) -> tuple[str, ...]:
    """Sentences on lines that are allowed and still unusual: a care the literature asks for is missing."""
    return tuple(
        f"{test.code} ({test.name}) does not say {word!r}; Nikolac 2013 Table 4 asks for it. "
        "Add it, or let the laboratory confirm that it is not needed here."
        for test in directory.tests
        if (word := CARE_BY_LOINC.get(test.loinc, "")) and word not in test.handling
    )


@dataclass(frozen=True, slots=True)
class Change:
    """One cell of one test that differs between two directories."""

    code: str
    column: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a new directory would change; each in the new directory's order (removed: the old one's)."""

    added: tuple[Test, ...]
    removed: tuple[Test, ...]
    changed: tuple[Change, ...]

    @property
    def is_same(self) -> bool:
        return not (self.added or self.removed or self.changed)


def compare(before: Directory, after: Directory) -> Comparison:
    """What the step from one directory to the other changes; tests are matched by local code."""
    old = {test.code: test for test in before.tests}
    new = {test.code: test for test in after.tests}
    return Comparison(
        added=tuple(test for code, test in new.items() if code not in old),
        removed=tuple(test for code, test in old.items() if code not in new),
        changed=tuple(change for code, test in new.items() if code in old for change in _changes(old[code], test)),
    )


def _changes(before: Test, after: Test) -> Iterable[Change]:
    for field in fields(Test):
        old, new = getattr(before, field.name), getattr(after, field.name)
        if old != new:
            yield Change(after.code, field.name, as_cell(old), as_cell(new))


def as_cell(value: object) -> str:
    """A field of a test as its CSV cell."""
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    if isinstance(value, tuple):
        return ";".join(value)
    if isinstance(value, frozenset):
        return ";".join(word for word in (*HANDLING_WORDS, *NOMINAL_ML) if word in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
