"""The floor plan holds: imports run downhill only, and each room keeps its own law."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import bedside

PACKAGE = Path(bedside.__file__).parent

# From the top down; a room may import itself and what stands below it. `sync` stands above `rounds` because a packet
# carries a round out; everything that is not a folder is wiring, and `settings.py` is read by all.
FLOORS = (
    "wiring",
    "web",
    "sync",
    "rounds",
    "people",
    "exchange",
    "records",
    "reports",
    "labels",
    "clinical",
    "settings",
)
ROOMS_OF_WIRING = ("app", "__main__", "demo", "commands", "__init__")
OPENS_ONLY_IN = {
    "peewee": ("records",),
    "playhouse": ("records",),
    "psycopg": ("records",),
    "flask": ("web", "wiring"),
    "flask_wtf": ("web", "wiring"),
    "werkzeug": ("web", "wiring"),
}
ATTICS = {"utils", "util", "helpers", "helper", "misc", "common", "special", "stuff"}
# A clock, chance, or a way out of the room.
NOT_IN_CLINICAL = {"now", "today", "utcnow", "open", "print", "input", "eval", "exec", "read_text", "write_text"}
NOT_IMPORTED_IN_CLINICAL = {
    "random",
    "uuid",
    "secrets",
    "time",
    "os",
    "pathlib",
    "socket",
    "subprocess",
    "logging",
}


def every_file(package: Path) -> list[Path]:
    return sorted(package.rglob("*.py"))


def room_of(name: str) -> str:
    """The floor of a module, by its path below the package or by the word after `bedside.`."""
    first = name.split("/")[0].split(".")[0]
    return "wiring" if first in ROOMS_OF_WIRING else first


def imported(source: str, module: str) -> Iterator[str]:
    """The full names of what a module imports, relative ones too."""
    here = module.removesuffix(".py").split("/")
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ["bedside", *here[: len(here) - node.level]] if node.level else []
            name = ".".join([*base, *([node.module] if node.module else [])])
            # `from bedside import sync` names the room in its list.
            yield from (f"{name}.{alias.name}" for alias in node.names) if name == "bedside" else [name]


def uphill(source: str, module: str) -> Iterator[str]:
    """Imports that climb."""
    room = room_of(module)
    for name in imported(source, module):
        if name.startswith("bedside."):
            other = room_of(name.removeprefix("bedside."))
            if FLOORS.index(other) < FLOORS.index(room):
                yield f"{module} imports {name}: {room} stands below {other}"


def trespassing(source: str, module: str) -> Iterator[str]:
    """Libraries outside the rooms they belong to; in `clinical/` anything but itself and the standard library."""
    room = room_of(module)
    for name in imported(source, module):
        first = name.split(".")[0]
        if room not in OPENS_ONLY_IN.get(first, (room,)):
            yield f"{module} imports {first}, which belongs to {OPENS_ONLY_IN[first]}"
        if room == "clinical" and not name.startswith("bedside.clinical") and first not in sys.stdlib_module_names:
            yield f"{module} imports {name}: clinical knows the standard library and itself"


def impure(source: str, module: str) -> Iterator[str]:
    """What gives `clinical/` a clock, chance, or a way out."""
    if room_of(module) != "clinical":
        return
    for name in imported(source, module):
        if name.split(".")[0] in NOT_IMPORTED_IN_CLINICAL:
            yield f"{module} imports {name}"
    for node in ast.walk(ast.parse(source)):
        called = node.func if isinstance(node, ast.Call) else None
        word = called.attr if isinstance(called, ast.Attribute) else called.id if isinstance(called, ast.Name) else ""
        if word in NOT_IN_CLINICAL:
            yield f"{module} calls {word}() in line {called.lineno}"


LAWS = (uphill, trespassing, impure)


def broken_laws(package: Path) -> list[str]:
    """Every breach in a package, in sentences."""
    told = []
    for path in every_file(package):
        module = path.relative_to(package).as_posix()
        source = path.read_text(encoding="utf-8")
        told += [breach for law in LAWS for breach in law(source, module)]
    return told


def test_imports_run_downhill_and_each_room_keeps_its_law():
    assert broken_laws(PACKAGE) == []


def test_every_room_has_its_floor():
    rooms = {room_of(path.relative_to(PACKAGE).as_posix()) for path in every_file(PACKAGE)}

    assert rooms == set(FLOORS)


def test_there_is_no_attic():
    names = [path for path in PACKAGE.rglob("*") if path.stem in ATTICS]

    assert names == []


@pytest.mark.parametrize(
    ("module", "source", "breach"),
    [
        ("labels/wrong.py", "from bedside.web import pages", "labels stands below web"),
        ("records/wrong.py", "from bedside import sync", "records stands below sync"),
        ("clinical/wrong.py", "from ..records import tables", "clinical stands below records"),
        ("rounds/wrong.py", "def late():\n    import bedside.sync.packet", "rounds stands below sync"),
        ("web/wrong.py", "import peewee", "imports peewee, which belongs to"),
        ("sync/wrong.py", "from flask import request", "imports flask, which belongs to"),
        ("clinical/wrong.py", "import jellyfish", "the standard library and itself"),
        ("clinical/wrong.py", "from bedside.settings import Settings", "the standard library and itself"),
        ("clinical/wrong.py", "import random", "imports random"),
        ("clinical/wrong.py", "from datetime import datetime\nhere = datetime.now()", "calls now() in line 2"),
        ("clinical/wrong.py", "print('x')", "calls print() in line 1"),
        ("clinical/wrong.py", "with open('x') as file: pass", "calls open() in line 1"),
    ],
)
def test_a_breach_is_seen(tmp_path, module, source, breach):
    file = tmp_path / module
    file.parent.mkdir()
    file.write_text(source, encoding="utf-8")

    assert any(breach in told for told in broken_laws(tmp_path))


def test_what_is_allowed_is_not_called_a_breach(tmp_path):
    (tmp_path / "web").mkdir()
    (tmp_path / "web" / "right.py").write_text("from flask import request\nfrom bedside.clinical import judge\n")
    (tmp_path / "clinical").mkdir()
    (tmp_path / "clinical" / "right.py").write_text("import json\nfrom . import names\nfrom .names import same_name\n")

    assert broken_laws(tmp_path) == []
