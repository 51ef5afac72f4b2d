"""Ines on the invented ward with the real house: one visit after another, in the words of the work."""

from __future__ import annotations

import csv
import re
from io import StringIO
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, TimeoutError

from bedside.demo import read_seed

from .at_the_bedside import CLOCK, PATIENCE_MS, TIME_PASSES
from .hand_reader import scan
from .house_process import HouseProcess, passphrase_of
from .locking import come_in, screens

SPECIMEN = re.compile(r"\b\d{10}\b")


class OnTheWard:
    """A signed-in person with the tablet. `problems` is what the browser complained of."""

    def __init__(self, context: BrowserContext, house: HouseProcess, pictures: Path) -> None:
        self.house = house
        self.pictures = pictures
        self.patients = {row["family"]: row for row in csv.DictReader(StringIO(read_seed().orders))}
        self.problems: list[str] = []
        context.add_init_script(CLOCK)
        self.page: Page = context.new_page()
        self.page.set_default_timeout(2 * PATIENCE_MS)
        self.page.on("pageerror", lambda error: self.problems.append(str(error)))
        self.page.on("console", lambda line: self._listen(line.type, line.text))

    def _listen(self, kind: str, text: str) -> None:
        if kind == "error" and "Failed to load resource" not in text:
            self.problems.append(text)

    # ---- the small things

    def wait(self, screen: str) -> None:
        """Until this screen is there; a picture of what is there instead when it never comes."""
        try:
            self.page.wait_for_selector(f'.frame[data-screen="{screen}"]')
        except TimeoutError as error:
            self.picture("stuck")
            there = self.page.locator(".frame").get_attribute("data-screen")
            raise AssertionError(f"The screen {screen!r} never came; {there!r} stayed (stuck.png).") from error

    def main(self, then: str) -> None:
        """The one main action, and the screen it leads to."""
        self.page.locator("button.main:not([disabled])").click()
        self.wait(then)

    def tap(self, words: str, then: str | None = None) -> None:
        self.page.get_by_role("button", name=words).first.click()
        if then:
            self.wait(then)

    def scan(self, text: str, then: str) -> None:
        scan(self.page, text)
        self.wait(then)

    def time_passes(self, seconds: float) -> None:
        """The tablet's clock runs on; nobody waits for it."""
        self.page.evaluate(TIME_PASSES, seconds)

    def picture(self, name: str) -> None:
        self.page.screenshot(path=self.pictures / f"{name}.png")

    def status(self) -> str:
        return self.page.locator(".head-state").inner_text()

    # ---- the day

    def sign_in(self) -> None:
        self.page.goto(f"{self.house.origin}/sign-in?next=/tablet/")
        self.page.fill("#name", "ines")
        self.page.fill("#password", passphrase_of("ines"))
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(self.house.url)
        come_in(self.page)
        self.wait("cautions")

    def starts_anew(self) -> None:
        """The page is loaded again, and unlocked."""
        self.page.reload()
        come_in(self.page)

    def unlocks(self) -> None:
        come_in(self.page)

    def hands_back(self) -> None:
        """The tablet is given back: no patients stay on it."""
        self.page.locator(".head-state").click()
        self.wait("this_tablet")
        self.tap("Hand this tablet back", "hand_back")
        self.page.locator("button.main:not([disabled])").click()
        self.page.wait_for_selector(screens("choose_pin", "sign_in_first"))

    def takes_the_round(self) -> None:
        self.main("round")
        self.page.evaluate(
            "navigator.serviceWorker.controller || new Promise(done =>"
            " navigator.serviceWorker.addEventListener('controllerchange', done, {once: true}))"
        )

    # ---- one visit

    def goes_to(self, family: str) -> None:
        self.page.locator(".door", has_text=family).click()
        self.wait("door")
        self.main("birth_date")

    def proves_identity(self, family: str) -> None:
        """The patient says name and birth date; the band is read."""
        year, month, day = self.patients[family]["birth_date"].split("-")
        for digit in f"{day}{month}{year}":
            self.page.locator(f'.key[data-key="{digit}"]').click()
        self.main("heard_name")
        self.main("band")
        self.scan(self.band(family), "consent")

    def band(self, family: str) -> str:
        return f"{self.patients[family]['record_number']}|{self.patients[family]['birth_date']}"

    def is_answered(self) -> None:
        """Yes to the draw, and nothing else applies."""
        self.main("questions")
        self.main("arms")

    def finds_the_vein(self) -> None:
        self.main("look_for_vein")
        self.main("look_for_vein")
        self.page.wait_for_selector('.main[data-look="panel"]')
        self.time_passes(25)
        self.main("clean")

    def puts_the_needle_in(self) -> None:
        self.main("drying")
        self.time_passes(31)
        self.page.wait_for_selector('.main[data-look="act"]')
        self.main("needle")
        self.main("draw")

    def fills(self, tubes: int) -> None:
        """Tube after tube, the tourniquet off, the needle out: always the same large button."""
        for number in range(1, tubes + 1):
            self.page.locator("button.main", has_text=f"Tube {number} is full").click()
        self.page.locator("button.main", has_text="Tourniquet off").click()
        self.page.locator("button.main", has_text="Needle out").click()
        self.wait("mix")

    def labels(self, family: str, tubes: int) -> None:
        """While the pressure is held: mixed, printed, read back, and the band read once more."""
        self.main("print")
        self.main("read_back")
        for number in range(1, tubes + 1):
            specimen = SPECIMEN.search(self.page.locator("#tablet").inner_text())
            assert specimen, "the label shows its specimen number"
            self.scan(specimen[0], "compare")
            self.main("read_back" if number < tubes else "band_again")
        self.scan(self.band(family), "site")

    def sees_it_dry(self, held_s: float, then: str) -> None:
        """Pressure as long as this patient needs, a look, and the tape."""
        self.time_passes(held_s)
        self.page.wait_for_selector('.main[data-look="act"]')
        self.page.locator("button.main", has_text="Look at the site").click()
        self.page.wait_for_selector("text=Watch the bare site")
        self.time_passes(6)
        self.page.wait_for_selector("text=What do you see?")
        self.page.locator("button.main", has_text="It is dry").click()
        self.page.locator("button.main", has_text="Taped").click()
        self.wait(then)

    def leaves(self) -> None:
        self.main("leave")
        self.main("ended")
        self.main("round")

    def draws(self, family: str, tubes: int, held_s: float = 125) -> None:
        """A whole visit in which nothing goes wrong, from the door to the door."""
        self.goes_to(family)
        self.proves_identity(family)
        self.is_answered()
        self.finds_the_vein()
        self.puts_the_needle_in()
        self.fills(tubes)
        self.labels(family, tubes)
        self.sees_it_dry(held_s, "bag")
        self.leaves()
