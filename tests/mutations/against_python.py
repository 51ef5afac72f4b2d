"""Puts the shared cases to a `bedside.clinical` with one mistake in it."""

from __future__ import annotations

import importlib
import resource
import signal
import sys
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from importlib.util import spec_from_loader
from pathlib import Path
from types import ModuleType
from typing import Any

from bedside import clinical
from bedside.exchange.directory_file import built_in_text
from tests.cases import sheet
from tests.cases.compare import differences, plan_differences
from tests.cases.expand import ExpandedCase
from tests.cases.files import answered, refused
from tests.mutations.mistake import CasesFail, Mistake
from tests.mutations.python_mistakes import mistakes

Json = dict[str, Any]

FOLDER = Path(clinical.__file__).parent
ROOM = "bedside.clinical"
# What a visit is judged by and its tubes are planned by. The texts (`wording`, `first_aid`), how a directory or a
# book is read and compared, and what is only counted down to have tests of their own.
MODULES = (
    "ages", "attempts", "case", "consent", "containers", "durations", "events", "findings", "haemostasis", "identity",
    "incidents", "judge", "labels", "leaving", "limits", "marks", "names", "order", "rulebook", "shapes", "site",
    "skin", "spaces", "tourniquet", "tubes_drawn", "visit", "volumes",
    "citrate", "order_of_draw", "rulebook_volumes", "sharing", "tube_request", "tubes", "volume",
    "container_sizes", "fitting", "good_until", "refusals", "saving", "supplies", "windows",
)  # fmt: skip
SECONDS = 20
MOST_BYTES = 2 << 30
AT_ONCE = 2


def all_mistakes(modules: Iterable[str] = MODULES) -> list[Mistake]:
    """Every mistake in these modules."""
    return [
        mistake
        for module in modules
        for mistake in mistakes(module, (FOLDER / f"{module}.py").read_text(encoding="utf-8"))
    ]


def judged(found: Sequence[Mistake]) -> Iterator[tuple[Mistake, str | None]]:
    """Each mistake with the case that noticed it, None where none did; in two processes at once.

    Raises CasesFail when a case fails without any mistake: then nothing could be told.
    """
    unchanged = Mistake("judge", 0, "nothing", "", (FOLDER / "judge.py").read_text(encoding="utf-8"))
    if (case := noticed_by(unchanged)) is not None:
        raise CasesFail(f"Without any mistake the cases must hold, but one does not: {case}")
    with ProcessPoolExecutor(AT_ONCE, initializer=_begin) as pool:
        yield from zip(found, pool.map(noticed_by, found, chunksize=8), strict=True)


class WithMistake(MetaPathFinder, Loader):
    """Gives one module the text of a mistake."""

    def __init__(self, mistake: Mistake) -> None:
        self._name = f"{ROOM}.{mistake.file}"
        self._text = mistake.text

    def find_spec(self, name: str, path: object = None, target: object = None) -> ModuleSpec | None:
        return spec_from_loader(name, self) if name == self._name else None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self._text, self._name, "exec"), module.__dict__)


class TooLate(Exception):
    """A judge that does not come back."""


def _begin() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    signal.signal(signal.SIGALRM, _late)


def _late(*_: Any) -> None:
    raise TooLate


def noticed_by(mistake: Mistake) -> str | None:
    """The first case that is not answered as it should be; None when all are."""
    finder = WithMistake(mistake)
    before = {name: module for name, module in sys.modules.items() if name.startswith(ROOM)}
    for name in before:
        del sys.modules[name]
    sys.meta_path.insert(0, finder)
    signal.alarm(SECONDS)
    try:
        return _first_differing()
    except Exception as error:
        return f"no judge at all: {type(error).__name__}"
    finally:
        signal.alarm(0)
        sys.meta_path.remove(finder)
        for name in [name for name in sys.modules if name.startswith(ROOM)]:
            del sys.modules[name]
        sys.modules.update(before)


# The cases that noticed something lately are asked first.
_asked_first: list[tuple[str, ExpandedCase]] = []


def _first_differing() -> str | None:
    if not _asked_first:
        for command in ("sheet", "tubes", "judge"):  # the fewer first
            _asked_first.extend({**answered(command), **refused(command)}.items())
    rules = Rules()
    for place, (name, case) in enumerate(_asked_first):
        if rules.differ(case):
            _asked_first.insert(0, _asked_first.pop(place))
            return name
    return None


class Rules:
    """The rules as they are loaded now, with the book and the directory a tablet or a later day has: read from text."""

    def __init__(self) -> None:
        self.bad_input = _now("bad_input").BadInput
        self.book = _now("book_text").read_book(_now("rulebook").default_book().text)
        self.directories: dict[str, Any] = {}

    def differ(self, case: ExpandedCase) -> bool:
        """Report whether a case is answered otherwise than it should be."""
        if case.command == "sheet":
            return self._sheet_differs(case)
        expected = case.expect.get("bad_input")
        try:
            verdict = self._judged(case) if case.command == "judge" else self._planned(case)
        except self.bad_input as problem:
            return expected is None or expected not in str(problem)
        except TooLate:
            raise
        except Exception:
            return True
        compared = differences if case.command == "judge" else plan_differences
        return expected is not None or bool(compared(case.expect, verdict))

    def _directory(self, text: str) -> Any:
        if text not in self.directories:
            self.directories[text] = _now("directory").read_directory(text)
        return self.directories[text]

    def _sheet_differs(self, case: ExpandedCase) -> bool:
        try:
            return bool(sheet.differences(case.case_json, case.expect, self.book, _now))
        except TooLate:
            raise
        except Exception:
            return True

    def _judged(self, case: ExpandedCase) -> Json:
        verdict: Json = _now("judge").judge(_now("case").read_case(case.case_json), self.book).as_json()
        return verdict

    def _planned(self, case: ExpandedCase) -> Json:
        request = _now("tube_request").read_tube_request(case.case_json)
        directory = self._directory(case.directory or built_in_text())
        plan: Json = _now("tubes").plan_tubes(request, directory, self.book).as_json()
        return plan


def _now(module: str) -> ModuleType:
    return importlib.import_module(f"{ROOM}.{module}")
