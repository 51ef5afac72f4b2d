"""What the lock of a tablet asks for, typed as a person would."""

from __future__ import annotations

from playwright.sync_api import Page

CODE = "2468 1357"
PIN = "739215"
LOCKS = ("enrol", "choose_pin", "pin_again", "unlock")


IS_OPEN = ".frame" + "".join(f':not([data-screen="{screen}"])' for screen in LOCKS)


def type_digits(page: Page, digits: str, then: str) -> None:
    """Type into the one field of the screen, go on, and wait for what `then` selects."""
    page.fill(".digits-box", digits)
    page.locator("button.main").click()
    page.wait_for_selector(then)


def screens(*names: str) -> str:
    return ", ".join(f'.frame[data-screen="{name}"]' for name in names)


def come_in(page: Page, pin: str = PIN) -> None:
    """Through whatever stands before the round: the tablet's code, a first PIN, or the PIN."""
    page.wait_for_selector(screens(*LOCKS))
    if screen_of(page) == "enrol":
        type_digits(page, CODE, screens("choose_pin", "unlock"))
    if screen_of(page) == "choose_pin":
        type_digits(page, pin, screens("pin_again"))
    type_digits(page, pin, IS_OPEN)


def screen_of(page: Page) -> str:
    return page.locator(".frame").get_attribute("data-screen") or ""
