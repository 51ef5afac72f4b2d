"""One tablet as a test holds it: a page with the engine, and plain words for what is done with it."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import BrowserContext, Page

PATIENCE_MS = 20_000
CODE = "24681357"
PIN = "739215"
INES = {"id": "p-ines", "name": "Ines Baptista"}

UNLOCK = """async ([person, pin, code]) => {
  if (engine.status.lock === "not-enrolled") await engine.enrol(code);
  const here = engine.status.people.filter(each => !each.isGone);
  const signedIn = () => new Promise(tell => engine.subscribe(status => status.person && tell(status.person)));
  const who = person ?? here[0] ?? await signedIn();
  if (here.some(each => each.id === who.id)) return engine.unlock(who.id, pin);
  const hasSignedIn = ({ freshSignIn, person }) => freshSignIn && person?.id === who.id;
  if (!hasSignedIn(engine.status)) engine.tryAgain();
  await new Promise((tell, giveUp) => {
    setTimeout(() => giveUp(new Error("nobody signed in: " + JSON.stringify(engine.status))), 30_000);
    engine.subscribe(status => hasSignedIn(status) && tell());
  });
  await engine.setPin(who, pin);
}"""

RECORD = """async specs => {
  try { return {saved: await window.engine.recordAll(specs)}; }
  catch (error) { return {refused: error.name, says: error.says ?? String(error), do_next: error.do_next}; }
}"""

UNTIL = """([wanted, patience]) => new Promise((resolve, reject) => {
  const fits = status => Object.entries(wanted).every(([field, value]) => status[field] === value);
  const timer = setTimeout(() => reject(new Error("still " + JSON.stringify(engine.status))), patience);
  let done = () => {};
  done = engine.subscribe(status => {
    if (!fits(status)) return;
    clearTimeout(timer);
    resolve(status);
    queueMicrotask(() => done());
  });
})"""


class Tablet:
    """A page of the app. `page` is Playwright's."""

    def __init__(self, page: Page, url: str) -> None:
        self.page = page
        self.url = url
        self.person: dict[str, str] | None = INES
        """Whose PIN it is; None: whoever has one here, else whoever is signed in."""
        self.violations: list[str] = []
        page.on("console", lambda message: self._listen(message.text))

    def _listen(self, text: str) -> None:
        if "Content Security Policy" in text or "Trusted" in text:
            self.violations.append(text)

    def open(self) -> Tablet:
        """Load the app, enrol the tablet the first time, unlock it, and wait until it can record."""
        self.page.goto(self.url)
        self.ready()
        return self

    def ready(self) -> None:
        self.starts()
        self.unlock()

    def starts(self) -> None:
        """The app is there, and locked."""
        self.page.wait_for_function("() => window.engine", timeout=PATIENCE_MS)
        assert self.page.evaluate("engine.ready")

    def unlock(self, person: dict[str, str] | None = None, pin: str = PIN) -> None:
        """With the PIN; the first time it is chosen here."""
        self.page.evaluate(UNLOCK, [person or self.person, pin, CODE])

    def reload(self) -> None:
        self.page.reload()
        self.ready()

    def opens_offline(self) -> None:
        """Wait until the app has been kept whole and holds this page."""
        self.until(opensOffline=True)
        self.page.evaluate(
            "navigator.serviceWorker.controller || new Promise(done =>"
            " navigator.serviceWorker.addEventListener('controllerchange', done, {once: true}))"
        )

    def record(self, visit: str = "v-kaarina", kind: str = "arrived", **more: Any) -> dict[str, Any]:
        """Save one event; gives it as saved."""
        return self.record_all([{"visit": visit, "kind": kind, **more}])["saved"][0]

    def record_all(self, specs: list[dict[str, Any]]) -> dict[str, Any]:
        """`{"saved": […]}` or `{"refused": name, "says", "do_next"}`."""
        return self.page.evaluate(RECORD, specs)

    def status(self) -> dict[str, Any]:
        return self.page.evaluate("engine.status")

    def until(self, patience_ms: int = PATIENCE_MS, **wanted: Any) -> dict[str, Any]:
        """Wait for a status with these fields."""
        return self.page.evaluate(UNTIL, [wanted, patience_ms])

    def all_sent(self) -> None:
        """Wait until nothing is unsent; asks for it at once, as a person would."""
        self.page.evaluate("engine.tryAgain()")
        self.until(unsent=0)

    def events(self) -> list[dict[str, Any]]:
        return self.page.evaluate("engine.allEvents()")

    def module(self, name: str, expression: str, argument: Any = None) -> Any:
        """Evaluate `(module, argument) => …` on one module of the build this page runs."""
        return self.page.evaluate(
            f"""async ([name, argument]) => {{
              const module = await import(`/static/${{engine.build}}/js/tablet/${{name}}`);
              return ({expression})(module, argument);
            }}""",
            [name, argument],
        )


def open_tablet(context: BrowserContext, url: str) -> Tablet:
    """A new page of this profile with the app in it."""
    return Tablet(context.new_page(), url).open()
