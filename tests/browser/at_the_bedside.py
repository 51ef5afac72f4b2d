"""One person with one tablet at the bedside: what is tapped, typed and scanned, in plain words."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import BrowserContext, Page

from .locking import come_in
from .stand_in import StandIn

PATIENCE_MS = 10_000

# The clock of the page, moved on by hand: nobody waits two minutes for pressure in a test.
CLOCK = """
window.skipped = 0;
{
  const [monotonic, wall] = [performance.now.bind(performance), Date.now];
  performance.now = () => monotonic() + window.skipped;
  Date.now = () => wall() + window.skipped;
}
// Nor for the pause in which a new button takes no touch, unless it is what the test is about.
window.hurried = true;
{
  const later = setTimeout;
  const [reader, pause] = [100, 500];
  const paced = ms => (window.hurried && ms > reader && ms < pause ? 20 : ms);
  window.setTimeout = (act, ms = 0, ...more) => later(act, paced(ms), ...more);
}
window.print = () => { window.printed = document.querySelectorAll("#print-sheet .print-label").length; };
"""

TIME_PASSES = """seconds => {
  window.skipped += seconds * 1000;
  dispatchEvent(new PointerEvent("pointerdown"));
}"""

# Each key carries the time at which a reader sends it, however long a busy machine takes over the next one.
SCAN = """text => {
  const began = performance.now();
  for (const [place, key] of [...text, "Enter"].entries()) {
    const press = new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true});
    Object.defineProperty(press, "timeStamp", {value: began + place * 5});
    (document.activeElement ?? document.body).dispatchEvent(press);
  }
}"""


class Bedside:
    """The app as a person meets it. `page` is Playwright's; `problems` what the browser complained of."""

    def __init__(self, profile: BrowserContext, house: StandIn) -> None:
        self.house = house
        self.problems: list[str] = []
        profile.add_init_script(CLOCK)
        self.page: Page = profile.new_page()
        self.page.set_default_timeout(PATIENCE_MS)
        self.page.on("pageerror", lambda error: self.problems.append(str(error)))
        self.page.on("console", lambda line: self._listen(line.type, line.text))

    def _listen(self, kind: str, text: str) -> None:
        if kind == "error" and "Failed to load resource" not in text:
            self.problems.append(text)

    def open(self) -> Bedside:
        self.page.goto(self.house.url)
        come_in(self.page)
        self.wait("cautions")
        return self

    def reload(self) -> None:
        """The page starts anew, and is unlocked."""
        self.page.reload()
        come_in(self.page)

    # ---- reading

    def wait(self, screen: str) -> None:
        """Until this screen is there and its actions answer."""
        self.page.wait_for_selector(f'.frame[data-screen="{screen}"]')

    @property
    def screen(self) -> str:
        return self.page.locator(".frame").get_attribute("data-screen") or ""

    @property
    def text(self) -> str:
        return self.page.locator("#tablet").inner_text()

    def visit(self, who: str) -> dict[str, Any]:
        packet: dict[str, Any] = self.house.packet or {}
        return next(visit for visit in packet["visits"] if visit["id"] == f"v-{who}")

    # ---- doing

    def main(self, then: str | None = None) -> None:
        self.page.locator("button.main").click()
        if then:
            self.wait(then)

    def tap(self, words: str, then: str | None = None) -> None:
        self.page.get_by_role("button", name=words, exact=True).first.click()
        if then:
            self.wait(then)

    def keys(self, digits: str) -> None:
        for digit in digits:
            self.page.locator(f'.key[data-key="{digit}"]').click()

    def scan(self, text: str, then: str | None = None) -> None:
        self.page.evaluate(SCAN, text)
        if then:
            self.wait(then)

    def skip(self, seconds: float) -> None:
        """Time passes with somebody at the tablet: a touch keeps it open."""
        self.page.evaluate(TIME_PASSES, seconds)

    # ---- longer ways

    def to_the_round(self) -> Bedside:
        self.open()
        self.main("round")
        return self

    def to_the_door(self, who: str) -> None:
        self.page.locator(f'.door[data-visit="v-{who}"]').click()
        self.wait("door")

    def born(self, who: str) -> str:
        """The birth date as it is spoken: day, month, year."""
        year, month, day = self.visit(who)["patient"]["birth_date"].split("-")
        return f"{day}{month}{year}"

    def band(self, who: str) -> str:
        patient = self.visit(who)["patient"]
        return f"{patient['record_number']}|{patient['birth_date']}"

    def settle_identity(self, who: str) -> None:
        """From the door to the question of consent."""
        self.main("birth_date")
        self.keys(self.born(who))
        self.main("heard_name")
        self.main("band")
        self.scan(self.band(who), "consent")

    def prepare(self) -> None:
        """From consent to a needle ready to go in; the skin has dried."""
        self.main("questions")
        self.main("arms")
        self.main("look_for_vein")
        self.main()
        self.page.wait_for_selector('.main[data-look="panel"]')
        self.main("clean")
        self.main("drying")
        self.skip(31)
        self.page.wait_for_selector('.main[data-look="act"]')
        self.main("needle")
