"""Puts the shared cases to a tablet's judge with one mistake in it, in a real browser."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from bedside.clinical.case import read_case
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from bedside.settings import folder
from tests.browser.browser_finder import FLAGS, find_browser
from tests.browser.judge_server import JudgeBroken, JudgeServer, TabletJudge, open_page
from tests.cases.compare import differences
from tests.cases.files import answered
from tests.mutations.javascript_mistakes import mistakes
from tests.mutations.mistake import NOT_A_PROGRAM, CasesFail, Mistake

TABLET = folder("static") / "js" / "tablet"
SCRIPTS = ("judge.js", "visit.js", *sorted(f"clinical/{path.name}" for path in (TABLET / "clinical").glob("*.js")))
SECONDS = 20
# So many workers may have been ended in one page before a fresh one is opened.
TO_A_PAGE = 150


def all_mistakes(scripts: Sequence[str] = SCRIPTS) -> list[Mistake]:
    """Every mistake in these scripts."""
    return [
        mistake for script in scripts for mistake in mistakes(script, (TABLET / script).read_text(encoding="utf-8"))
    ]


def judged(found: Sequence[Mistake]) -> Iterator[tuple[Mistake, str | None]]:
    """Each mistake with the case that noticed it, None where none did; in a browser of its own."""
    with sync_playwright() as playwright:
        path = find_browser(playwright.chromium.executable_path)
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield from judged_in(browser, found)
        browser.close()


def judged_in(browser: Browser, found: Sequence[Mistake]) -> Iterator[tuple[Mistake, str | None]]:
    """The same in a browser that is already running.

    Raises CasesFail when a case fails without any mistake: then nothing could be told.
    """
    with _served() as asking:
        asking.check(open_page(browser, asking.server))
        for start in range(0, len(found), TO_A_PAGE):
            page = open_page(browser, asking.server)
            for number, mistake in enumerate(found[start : start + TO_A_PAGE], start=start):
                yield mistake, asking.noticed_by(page, f"edition-{number}", mistake)
            page.close()


@contextmanager
def _served() -> Iterator[Asking]:
    server = JudgeServer()
    yield Asking(server)
    server.stop()


class Asking:
    """Every case with an answer, the right verdict beside it, and a server that gives a script with a mistake."""

    def __init__(self, server: JudgeServer) -> None:
        self.server = server
        self._cases = answered("judge")
        self._names = list(self._cases)
        self._server_says = {
            name: judge(read_case(case.case_json), default_book()).as_json() for name, case in self._cases.items()
        }
        self._write()

    def check(self, page: Page) -> None:
        """Ask the judge as it is. Raises CasesFail when a case fails."""
        unchanged = Mistake("judge.js", 0, "nothing", "", (TABLET / "judge.js").read_text(encoding="utf-8"))
        if (case := self.noticed_by(page, "unchanged", unchanged)) is not None:
            raise CasesFail(f"Without any mistake the cases must hold, but one does not: {case}")

    def noticed_by(self, page: Page, edition: str, mistake: Mistake) -> str | None:
        """The first case that is not answered as it should be; None when all are."""
        self.server.lay_over(edition, {f"js/tablet/{mistake.file}": mistake.text})
        tablet = None
        try:
            tablet = TabletJudge(page, edition, SECONDS)
            return self._first_differing(tablet)
        except JudgeBroken as broken:
            return NOT_A_PROGRAM if "SyntaxError" in str(broken) else f"no judge at all: {broken}"
        finally:
            if tablet is not None:
                tablet.end()
            self.server.lay_over(edition, {})

    def _first_differing(self, tablet: TabletJudge) -> str | None:
        """Where a verdict is not the server's, the case itself decides whether it is wrong."""
        place = 0
        while place is not None:
            answer = tablet.differing_in_kept(place)
            for one in answer["differing"]:
                name = self._names[one["place"]]
                if self._is_wrong(name, one["verdict"]):
                    self._first(name)
                    return name
            place = answer["next"]
        return None

    def _is_wrong(self, name: str, verdict: dict[str, Any]) -> bool:
        try:
            return bool(differences(self._cases[name].expect, verdict))
        except (KeyError, TypeError):
            return True  # It threw, or what it said is no verdict.

    def _first(self, name: str) -> None:
        """The cases that noticed something lately are asked first."""
        if name not in self._names[:20]:
            self._names.remove(name)
            self._names.insert(0, name)
            self._write()

    def _write(self) -> None:
        cases = [self._cases[name].case_json for name in self._names]
        expected = [self._server_says[name] for name in self._names]
        self.server.kept = json.dumps({"cases": cases, "expected": expected})
