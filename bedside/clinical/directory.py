"""The laboratory's test directory: which test needs which container, how much blood, and what care.

Text in, `Directory` out; every bad cell is named by line and column. Where the text comes from is not
decided here (`bedside.exchange.directory_file` reads files).
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import ClassVar

from bedside.clinical.container_sizes import ContainerSize, read_sizes, sizes_of
from bedside.clinical.directory_cells import (
    NUMBER_SHAPE,
    BadCell,
    DirectoryRefused,
    Line,
    header_of,
    lines_of,
    short_rows,
    tables_of,
)
from bedside.clinical.rulebook_volumes import NOMINAL_ML

__all__ = ["BadCell", "Change", "Comparison", "Directory", "DirectoryRefused", "Test", "compare", "read_directory"]

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
    "blood",
)
BLOOD_WORDS = ("whole", "separated")

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One line of the directory.

    containers: the acceptable kinds, the preferred one first (culture bottles: all that belong together).
    min_ml: the least blood to draw for it, in mL (lower end of a range); 0 for a culture, whose bottles the
        rulebook fills.
    hurry_in: the kinds in which it must go to the laboratory at once.
    in_lab_min: minutes from the draw within which the laboratory must have it, or None.
    apart: shares a container only with tests of the same word; empty shares with all.
    blood: examined as it is (`whole`), or parted from its cells first (`separated`); empty: not said.
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
    blood: str = ""

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


APART_BY: Mapping[str, Callable[[Test], str]] = {
    "section": lambda test: test.section,
    "light": lambda test: "dark" if "protect-from-light" in test.handling else "",
    "timed": lambda test: test.timing,
    "blood": lambda test: test.blood,
}
"""What a laboratory may keep apart beside temperature: tests that differ in it then share no container."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptApart:
    """One word of `APART_BY` that counts here, and who says so."""

    fact: str
    source: str


@dataclass(frozen=True)
class Directory:
    """All tests in the directory's order; `version` is the hash of the text they were read from.

    sizes: the containers the laboratory hands out; of a kind it names none of, the rulebook's sizes count.
    keeps_apart: what parts tests here beside temperature and the column `apart`. The contract parts by nothing else, so
    the built-in directory has none.
    """

    tests: tuple[Test, ...]
    version: str
    sizes: tuple[ContainerSize, ...] = ()
    keeps_apart: tuple[KeptApart, ...] = ()

    def __post_init__(self) -> None:
        by_code = {code: place for place, test in enumerate(self.tests) for code in (test.code, test.loinc)}
        by_code.pop("", None)
        object.__setattr__(self, "_places", by_code)
        kinds = {size.kind for size in self.sizes}
        own = {
            (kind, is_child): sizes_of(self.sizes, kind, is_child=is_child)
            for kind in kinds
            for is_child in (True, False)
        }
        object.__setattr__(self, "_sizes", own)

    def find(self, code: str) -> Test | None:
        """The test of this LOINC code or local code, or None."""
        place = self.place(code)
        return None if place is None else self.tests[place]

    def place(self, code: str) -> int | None:
        """Where in the directory's order this code stands (0 is first), or None."""
        places: dict[str, int] = self._places  # type: ignore[attr-defined]
        return places.get(code)

    def sizes_of(self, kind: str, *, is_child: bool) -> tuple[ContainerSize, ...]:
        """The laboratory's sizes of a kind for this patient, the smallest first; empty where it names none."""
        sizes: dict[tuple[str, bool], tuple[ContainerSize, ...]] = self._sizes  # type: ignore[attr-defined]
        return sizes.get((kind, is_child), ())

    def party(self, test: Test) -> tuple[str, ...]:
        """What a test has in common with every test it may share a container with."""
        return (test.temperature, test.apart, *(APART_BY[kept.fact](test) for kept in self.keeps_apart))


# --- reading -------------------------------------------------------------------------------------------


def read_directory(text: str, sizes: Mapping[str, tuple[float, ...]] = NOMINAL_ML) -> Directory:
    """Read the directory's CSV text; `DirectoryRefused` names every bad cell.

    sizes: the container kinds this house has, each with its nominal volumes in mL.
    """
    tables = tables_of(lines_of(text))
    header = header_of(tables["tests"], COLUMNS, REQUIRED_COLUMNS)
    own, problems = read_sizes(tables["container"], sizes) if "container" in tables else ((), [])
    keeps_apart, more = _keeps_apart(tables["keeps_apart"]) if "keeps_apart" in tables else ((), [])
    tests, wrong = _tests(tables["tests"][1:], header, _largest(own, sizes))
    if problems := sorted([*problems, *more, *wrong], key=lambda problem: problem.line):
        raise DirectoryRefused(problems)
    version = "sha256:" + hashlib.sha256(text.encode()).hexdigest()
    return Directory(tests, version, own, keeps_apart)


def _tests(
    lines: Sequence[Line], header: list[str], largest: Mapping[str, float]
) -> tuple[tuple[Test, ...], list[BadCell]]:
    tests: list[Test] = []
    problems: list[BadCell] = []
    for line, values in lines:
        row = _Row(line, header, values, largest)
        test = row.read()
        problems.extend(row.problems)
        if test is not None:
            problems.extend(_repeated(test, tests, line))
            tests.append(test)
    return tuple(tests), problems


def _largest(own: Sequence[ContainerSize], sizes: Mapping[str, tuple[float, ...]]) -> dict[str, float]:
    """What the largest container of each kind holds that everybody has, children too."""
    largest = {kind: max(held, default=math.inf) for kind, held in sizes.items()}
    for kind in {size.kind for size in own}:
        largest[kind] = min(
            max((size.nominal_ml for size in sizes_of(own, kind, is_child=is_child)), default=math.inf)
            for is_child in (True, False)
        )
    return largest


def _keeps_apart(table: Sequence[Line]) -> tuple[tuple[KeptApart, ...], list[BadCell]]:
    kept: list[KeptApart] = []
    problems: list[BadCell] = []
    for line, cells in short_rows(table, ("keeps_apart", "source")):
        fact = cells["keeps_apart"]
        if fact not in APART_BY:
            problems.append(BadCell(line, "keeps_apart", fact, f"one of {', '.join(APART_BY)}"))
        elif any(one.fact == fact for one in kept):
            problems.append(BadCell(line, "keeps_apart", fact, "this word stands here already"))
        if not cells["source"]:
            problems.append(BadCell(line, "source", "", "this cell is needed"))
        kept.append(KeptApart(fact=fact, source=cells["source"]))
    return tuple(kept), problems


def _repeated(test: Test, earlier: list[Test], line: int) -> list[BadCell]:
    taken = {code for other in earlier for code in (other.code, other.loinc) if code}
    return [
        BadCell(line, column, code, "another test has this code already")
        for column, code in (("code", test.code), ("loinc", test.loinc))
        if code and code in taken
    ]


class _Row:
    """One line being read: each cell is asked for once, and what is wrong is gathered in `problems`."""

    def __init__(self, line: int, header: list[str], values: list[str], largest: Mapping[str, float]) -> None:
        self.line = line
        self.largest = largest
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
            blood=self._one_of("blood", BLOOD_WORDS),
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
            if kind not in self.largest or kind == "discard":
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
            largest = self.largest.get(kind, math.inf)
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
    changed = [change for code, test in new.items() if code in old for change in _changes(old[code], test)]
    return Comparison(
        added=tuple(test for code, test in new.items() if code not in old),
        removed=tuple(test for code, test in old.items() if code not in new),
        changed=(*changed, *_other_changes(before, after)),
    )


def _other_changes(before: Directory, after: Directory) -> Iterable[Change]:
    """What differs in the sizes of containers, kind by kind, and in what is kept apart."""
    for kind in dict.fromkeys(size.kind for size in (*before.sizes, *after.sizes)):
        old, new = (_sizes_cell(directory, kind) for directory in (before, after))
        if old != new:
            yield Change(kind, "sizes in mL", old, new)
    old, new = (";".join(kept.fact for kept in directory.keeps_apart) for directory in (before, after))
    if old != new:
        yield Change("all tests", "keeps_apart", old, new)


def _sizes_cell(directory: Directory, kind: str) -> str:
    sizes = sorted((size for size in directory.sizes if size.kind == kind), key=lambda size: size.nominal_ml)
    return "; ".join(map(str, sizes))


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
