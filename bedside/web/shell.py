"""The shell: the files a tablet keeps so that it opens without network. No patient data passes through these doors.

Every file of `static/` is read once, when the app starts, and served from memory under a name that carries the
build: a page and its modules always come from one build, and the bytes served are the bytes that were hashed.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from flask import Blueprint, Response, current_app, jsonify
from flask.blueprints import BlueprintSetupState
from werkzeug.exceptions import NotFound

pages = Blueprint("shell", __name__)

PAGE = "/tablet/"
WORKER = "sw.js"
PLACE_OF_THE_LIST = re.compile(r"^const SHELL = .*;$", re.MULTILINE)

KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".png": "image/png",
    ".svg": "image/svg+xml",
}
"""What a tablet may be given; anything else in the folder (a README) is not served from here."""

SHELL_FOLDERS = ("js/tablet/", "css/tablet", "css/tokens.css", "icons/")
"""How the names of the files begin that a tablet keeps."""

FOR_EVER = "public, max-age=31536000, immutable"
ASK_EACH_TIME = "no-cache"


class WorkerBroken(RuntimeError):
    """`static/sw.js` has no line for the list of files, so no tablet could keep the app."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShellFile:
    """One file as it is served. sha256: of its bytes, in hexadecimal."""

    kind: str
    content: bytes
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One version of the files. name: changes with any byte of any of them. folder: where they are served."""

    name: str
    files: dict[str, ShellFile]

    @property
    def folder(self) -> str:
        return f"/static/{self.name}/"

    def url(self, name: str) -> str:
        """The address of one file in this build.

        Raises KeyError for a file that is not there, so that a page never points into the void.
        """
        if name not in self.files:
            raise KeyError(name)
        return self.folder + name

    @property
    def kept(self) -> list[str]:
        """The names of the files a tablet keeps, in order."""
        return [name for name in self.files if name.startswith(SHELL_FOLDERS)]

    @property
    def styles(self) -> list[str]:
        """The tablet's style sheets; the tokens come first, because the others use them."""
        names = [name for name in self.kept if name.endswith(".css")]
        return [self.url(name) for name in sorted(names, key=lambda name: (name != "css/tokens.css", name))]


def read_build(folder: Path) -> Build:
    """Read every file of the folder that can be served."""
    names = sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.suffix in KINDS and path.is_file()
    )
    files = {name: _shell_file(folder / name) for name in names}
    return Build(name=_name_of(files), files=files)


def _shell_file(path: Path) -> ShellFile:
    content = path.read_bytes()
    return ShellFile(kind=KINDS[path.suffix], content=content, sha256=hashlib.sha256(content).hexdigest())


def _name_of(files: dict[str, ShellFile]) -> str:
    """Twelve characters are enough to tell one house's builds apart."""
    told = "".join(f"{name} {file.sha256}\n" for name, file in files.items())
    return hashlib.sha256(told.encode()).hexdigest()[:12]


def worker_text(build: Build, page: str) -> str:
    """The service worker's script with the list of what it keeps; `page` is the text of the shell page.

    Raises WorkerBroken where the script has no place for the list.
    """
    files = [{"url": PAGE, "sha256": hashlib.sha256(page.encode()).hexdigest()}]
    files += [{"url": build.url(name), "sha256": build.files[name].sha256} for name in build.kept]
    shell = json.dumps({"build": build.name, "page": PAGE, "files": files}, separators=(",", ":"))
    text, places = PLACE_OF_THE_LIST.subn(lambda _: f"const SHELL = {shell};", build.files[WORKER].content.decode())
    if places != 1:
        raise WorkerBroken(f"{WORKER} needs exactly one line `const SHELL = …;`, but has {places}. Put it back.")
    return text


def manifest(build: Build) -> dict[str, object]:
    """What a device needs to put the app on its home screen."""
    return {
        "id": PAGE,
        "name": "Bedside",
        "short_name": "Bedside",
        "description": "The morning blood round at the bedside.",
        "lang": "en",
        "start_url": PAGE,
        "scope": "/",
        "display": "standalone",
        "orientation": "any",
        "background_color": "#171310",
        "theme_color": "#171310",
        "icons": [
            _icon(build, "icons/bedside-192.png", "192x192", "any"),
            _icon(build, "icons/bedside-512.png", "512x512", "any"),
            _icon(build, "icons/bedside-maskable-512.png", "512x512", "maskable"),
            _icon(build, "icons/bedside.svg", "any", "any"),
        ],
    }


def _icon(build: Build, name: str, sizes: str, purpose: str) -> dict[str, str]:
    return {"src": build.url(name), "sizes": sizes, "type": build.files[name].kind, "purpose": purpose}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """What an app serves: one build of the files, and the worker's script with their list."""

    build: Build
    worker: str


@pages.record_once
def read_at_start(state: BlueprintSetupState) -> None:
    """Read the files, write the list, and open a door for this build. A house whose files do not fit does not start."""
    app = state.app
    build = read_build(Path(app.static_folder or ""))
    app.jinja_env.globals["shell"] = build
    page = app.jinja_env.get_template("tablet/shell.html").render()
    app.extensions["shell"] = Shell(build=build, worker=worker_text(build, page))
    state.add_url_rule(f"{build.folder}<path:name>", "file", shell_file)


def held_shell() -> Shell:
    """The shell of the app that answers."""
    shell: Shell = current_app.extensions["shell"]
    return shell


def shell_file(name: str) -> Response:
    """One file of this build; its name never means other bytes, so it may be kept for ever."""
    file = held_shell().build.files.get(str(PurePosixPath(name)))
    if file is None:
        raise NotFound
    return _kept(Response(file.content, content_type=file.kind), FOR_EVER)


@pages.get("/sw.js")
def worker() -> Response:
    """The service worker; asked for anew each time, so that an old app cannot hold on to a tablet."""
    return _kept(Response(held_shell().worker, content_type=KINDS[".js"]), ASK_EACH_TIME)


@pages.get("/favicon.ico")
def favicon() -> Response:
    """The icon, where a browser asks for it by its old name."""
    icon = held_shell().build.files["icons/bedside.svg"]
    return _kept(Response(icon.content, content_type=icon.kind), ASK_EACH_TIME)


@pages.get("/manifest.webmanifest")
def app_manifest() -> Response:
    """The web app manifest."""
    response = jsonify(manifest(held_shell().build))
    response.content_type = "application/manifest+json"
    return _kept(response, ASK_EACH_TIME)


def _kept(response: Response, how: str) -> Response:
    response.headers["Cache-Control"] = how
    return response
