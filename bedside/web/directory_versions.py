"""The laboratory's directory at the keeper's desk: check a file, see what it changes, sign it by name."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from bedside.clinical.directory import Directory, DirectoryRefused, as_cell, cautions, compare, read_directory
from bedside.exchange.orders_in import directory_in_force
from bedside.records.directory_now import NotSigned, lacking, sign, signatures, signed_now
from bedside.web.desk import Desk, desk, request_time, signed_in
from bedside.web.times import local, shown, zone_of

pages = Blueprint("directory_versions", __name__, url_prefix="/house/directory/versions")


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedLine:
    version: str
    signer: str
    when: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A file that could be put in force, and what it would change."""

    text: str
    version: str
    tests: int
    added: tuple[str, ...]
    removed: tuple[str, ...]
    changed: tuple[tuple[str, str, str, str], ...]
    cautions: tuple[str, ...]
    lacking: tuple[str, ...]
    is_same: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionsPage:
    desk: Desk
    in_force: str
    signed: tuple[SignedLine, ...]
    proposed: Proposed | None
    wrong: tuple[str, ...]
    signer: str


@pages.get("/")
def versions() -> str:
    """Every version signed so far, and the form for a new one."""
    return _page()


@pages.post("/check")
def check() -> str | tuple[str, int]:
    """Read a file and show what it would change; nothing is kept."""
    file = request.files.get("file")
    data = file.read() if file else b""
    if not data:
        return _page(wrong=("Choose a file first: nothing was sent.",)), 422
    try:
        return _page(_proposed(data.decode("utf-8")))
    except UnicodeDecodeError:
        return _page(wrong=("The file is not UTF-8. Save it as CSV, UTF-8.",)), 422
    except DirectoryRefused as refused:
        return _page(wrong=tuple(str(problem) for problem in refused.problems)), 422


@pages.post("/sign")
def sign_version() -> Response | tuple[str, int]:
    """Put the checked text in force, under the name of whoever sits here."""
    # A browser sends every line end of a form as CR LF; the version is the hash of the text as it was in the file.
    text = request.form.get("text", "").replace("\r\n", "\n")
    try:
        sign(text, signer=signed_in().name, by=signed_in().person, note=request.form.get("note", ""), at=g.at)
    except NotSigned as refused:
        return _page(wrong=(str(refused),)), 422
    except DirectoryRefused as refused:
        return _page(wrong=tuple(str(problem) for problem in refused.problems)), 422
    flash("In force from now on. The next packet of every round is made with it.")
    return redirect(url_for("directory_versions.versions"))


def _page(proposed: Proposed | None = None, wrong: tuple[str, ...] = ()) -> str:
    at, signed = request_time(), signed_now()
    zone = zone_of(at)
    since = f"signed by {signed.signer}, {shown(local(signed.at, zone), at)}" if signed else "the built-in directory"
    page = VersionsPage(
        desk=desk("New directory", at, here="house.directory"),
        in_force=since,
        signed=tuple(
            SignedLine(version=one.version, signer=one.signer, when=shown(local(one.at, zone), at), note=one.note)
            for one in signatures()
        ),
        proposed=proposed,
        wrong=wrong,
        signer=signed_in().name,
    )
    return render_template("directory_versions/versions.html", page=page)


def _proposed(text: str) -> Proposed:
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    directory: Directory = read_directory(text)
    found = compare(directory_in_force(), directory)
    return Proposed(
        text=text,
        version=directory.version,
        tests=len(directory.tests),
        added=tuple(f"{test.code} {test.name}: {as_cell(test.containers)}" for test in found.added),
        removed=tuple(f"{test.code} {test.name}" for test in found.removed),
        changed=tuple((one.code, one.column, one.before, one.after) for one in found.changed),
        cautions=cautions(directory),
        lacking=tuple(f"{number} asks for {test}" for number, test in lacking(directory)),
        is_same=found.is_same,
    )
