"""A window with WebKitGTK in it and a profile that stays on the disk.

`/usr/bin/python3 webkit_window.py FOLDER SCRIPT`: WebKitWebDriver starts it so and drives it. SCRIPT is a file of
JavaScript that runs first on each page. The bindings (python3-gi) belong to the system's own Python.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
# Only now, with the versions settled, may they be imported.
from gi.repository import Gtk, WebKit2  # noqa: E402

WIDTH, HEIGHT = 820, 1180


def profile_in(folder: str) -> WebKit2.WebContext:
    """Storage, caches and cookies under one folder, which the next start finds again."""
    data = WebKit2.WebsiteDataManager(base_data_directory=f"{folder}/data", base_cache_directory=f"{folder}/cache")
    context = WebKit2.WebContext.new_with_website_data_manager(data)
    cookies = context.get_cookie_manager()
    cookies.set_persistent_storage(f"{folder}/cookies", WebKit2.CookiePersistentStorage.SQLITE)
    data.set_tls_errors_policy(WebKit2.TLSErrorsPolicy.IGNORE)  # the house of a test has vouched for itself
    context.set_automation_allowed(True)
    return context


def first_on_each_page(source: str) -> WebKit2.UserContentManager:
    content = WebKit2.UserContentManager()
    frames, start = WebKit2.UserContentInjectedFrames.TOP_FRAME, WebKit2.UserScriptInjectionTime.START
    content.add_script(WebKit2.UserScript.new(source, frames, start, None, None))
    return content


def version() -> WebKit2.ApplicationInfo:
    about = WebKit2.ApplicationInfo.new()
    about.set_name("WebKitGTK")
    about.set_version(WebKit2.get_major_version(), WebKit2.get_minor_version(), WebKit2.get_micro_version())
    return about


def main(folder: str, script: str) -> None:
    context = profile_in(folder)
    view = WebKit2.WebView(
        web_context=context,
        user_content_manager=first_on_each_page(Path(script).read_text(encoding="utf-8")),
        settings=WebKit2.Settings(enable_write_console_messages_to_stdout=True),
        is_controlled_by_automation=True,
    )

    def automated(_context: WebKit2.WebContext, session: Any) -> None:
        session.set_application_info(version())
        session.connect("create-web-view", lambda _session: view)

    context.connect("automation-started", automated)
    window = Gtk.Window(default_width=WIDTH, default_height=HEIGHT)
    window.add(view)
    window.connect("destroy", lambda *_: Gtk.main_quit())
    window.show_all()
    Gtk.main()


if __name__ == "__main__":
    main(*sys.argv[1:])
