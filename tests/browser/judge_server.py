"""The tablet's rules in a browser: a loopback server of nothing but `static/`, and a worker that judges.

A worker and not the page, so that a judge that never comes back can be ended.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterable, Mapping
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

from bedside.clinical.rulebook import default_book
from bedside.settings import folder

Json = dict[str, Any]

PAGE = "<!doctype html><title>Judge</title>"

WORKER = """
import { judge } from "./js/tablet/judge.js";

const answers = (book, given) => {
  try {
    return judge(book, given);
  } catch (error) {
    return { error: String(error.stack ?? error) };
  }
};

let book = null;
const differing = (cases, expected) => cases
  .map((given, place) => ({ place, verdict: answers(book, given) }))
  .filter(({ place, verdict }) => JSON.stringify(verdict) !== JSON.stringify(expected[place]));
let kept = null;
const differingInKept = async ({ from, most }) => {
  kept ??= await (await fetch("./kept.json")).json();
  const found = [];
  for (let place = from; place < kept.cases.length; place += 1) {
    const [verdict] = differing([kept.cases[place]], [kept.expected[place]]);
    if (verdict) found.push({ ...verdict, place });
    if (found.length === most) return { differing: found, next: place + 1 };
  }
  return { differing: found, next: null };
};
const doors = {
  read: (given) => { book = given; },
  judge: ({ cases }) => cases.map((given) => answers(book, given)),
  compare: ({ cases, expected }) => differing(cases, expected),
  compare_kept: differingInKept,
};
onmessage = async ({ data: [door, text] }) => {
  postMessage(JSON.stringify((await doors[door](JSON.parse(text))) ?? null));
};
postMessage("ready");
"""

ASK = """
([name, message, seconds]) => new Promise((resolve, reject) => {
  globalThis.workers ??= {};
  const worker = workers[name] ??= new Promise((there) => {
    const made = new Worker(`/${name}/worker.js`, { type: "module" });
    made.onmessage = () => there(made);
    made.onerror = (event) => { event.preventDefault(); there({ broken: `does not load: ${event.message}` }); };
  });
  const late = setTimeout(() => resolve({ broken: "did not answer in time" }), seconds * 1000);
  worker.then((made) => {
    const answer = (data) => { clearTimeout(late); resolve(data); };
    if (made.broken) { answer(made); return; }
    made.onmessage = ({ data }) => answer({ data });
    made.postMessage(message);
  });
})
"""

END = """
async (name) => {
  const worker = await Promise.race([globalThis.workers?.[name], null]);
  worker?.terminate?.();
  if (globalThis.workers) delete workers[name];
}
"""


class JudgeBroken(AssertionError):
    """The tablet's judge does not load, or did not come back."""


class JudgeServer:
    """Serves `static/` on a free port; under `/NAME/` with the files of the edition NAME laid over it."""

    def __init__(self, static: Path | None = None) -> None:
        self._static = static or folder("static")
        self._editions: dict[str, Mapping[str, str]] = {}
        self.kept = '{"cases": [], "expected": []}'
        """Cases and the verdicts expected of them, for `differing_in_kept`."""
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()

    def lay_over(self, edition: str, files: Mapping[str, str]) -> None:
        """From now on `/edition/` is `static/` with these files in place of its own."""
        self._editions[edition] = files

    def text(self, path: str) -> str | None:
        """What stands at a path; None where nothing does."""
        edition, _, name = path.strip("/").partition("/")
        if name == "worker.js":
            return WORKER
        if name == "kept.json":
            return self.kept
        if name in self._editions.get(edition, {}):
            return self._editions[edition][name]
        file = self._static / name
        return file.read_text(encoding="utf-8") if file.is_file() else None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_port}/"

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        house = self

        class Door(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                text = PAGE if self.path == "/" else house.text(self.path)
                data = (text or "").encode()
                self.send_response(404 if text is None else 200)
                self.send_header("Content-Type", "text/html" if self.path == "/" else "text/javascript")
                self.send_header("Content-Length", str(len(data)))
                self.end_headers()
                self.wfile.write(data)

            def log_message(self, *told: object) -> None:
                pass

        return Door


class TabletJudge:
    """One edition of the tablet's judge in a browser, with a book to judge by.

    Everything travels as JSON text, once in and once out: whole visits by the thousand are slow otherwise.
    """

    def __init__(self, page: Page, edition: str = "now", seconds: float = 120) -> None:
        self._page = page
        self._edition = edition
        self._seconds = seconds
        self._ask("read", default_book().text)

    def judge(self, cases: Iterable[Json]) -> list[Json]:
        """The verdicts, or `{"error": …}` where the judge threw."""
        return self._ask("judge", json.dumps({"cases": list(cases)}))

    def differing(self, cases: list[Json], expected: list[Json]) -> list[Json]:
        """Where its verdict is not the expected one, field by field: `{place, verdict}` each."""
        return self._ask("compare", json.dumps({"cases": cases, "expected": expected}))

    def differing_in_kept(self, place: int, most: int = 10) -> Json:
        """The next ones from `place` on among the server's kept cases: `{differing, next}`, next null at the end."""
        return self._ask("compare_kept", json.dumps({"from": place, "most": most}))

    def end(self) -> None:
        """Stop its worker, whatever it is doing."""
        self._page.evaluate(END, self._edition)

    def _ask(self, door: str, text: str) -> Any:
        answer = self._page.evaluate(ASK, [self._edition, [door, text], self._seconds])
        if "broken" in answer:
            raise JudgeBroken(f"The tablet's judge {answer['broken']}.")
        return json.loads(answer["data"])


def open_page(browser: Browser, server: JudgeServer) -> Page:
    """An empty page of the server, from which workers are started."""
    page = browser.new_page()
    page.goto(server.url)
    return page
