"""A hand-held reader: real key events that carry the times at which its keys came."""

from __future__ import annotations

from playwright.sync_api import Page

READER_MS = 5
"""From key to key, as a reader types."""


def press_keys(page: Page, text: str, every_ms: int = READER_MS) -> None:
    """Keys with the times at which they were pressed, however busy the machine is; `↵` is Enter."""
    devtools = page.context.new_cdp_session(page)
    start = page.evaluate("Date.now()") / 1000
    for n, character in enumerate(text):
        key = {"key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13, "text": "\r"}
        if character != "↵":
            key = {"key": character, "text": character}
        when = start + n * every_ms / 1000
        devtools.send("Input.dispatchKeyEvent", {"type": "keyDown", "timestamp": when, **key})
        key.pop("text")
        devtools.send("Input.dispatchKeyEvent", {"type": "keyUp", "timestamp": when, **key})
    devtools.detach()


def scan(page: Page, text: str) -> None:
    """One pull of the trigger."""
    press_keys(page, f"{text}↵")
