"""A disk that forgets what was never synced, under SQLite itself: what a power cut leaves behind.

`Recorder` is a virtual file system (APSW) over the real one. It notes every write, truncation, deletion and sync, and
what the house had answered by then. `left_after` gives the files as they may stand after a cut at any of these points:
all that was synced, and of the rest each write by chance whole, in part, or not at all.

Not modelled: lost directory entries, and writes that damage what lies beside them.
"""

from __future__ import annotations

import os
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw
from playhouse.apsw_ext import APSWDatabase

from bedside.records.database import BUSY_TIMEOUT_MS, check, demanded

NAME = "forgetful"
SECTOR = 512
MARKED = ("", "-wal", "-journal")
"""The files of a database that a restart reads; the shared-memory file is made anew."""


@dataclass(frozen=True, slots=True)
class Write:
    file: str
    at: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Truncation:
    file: str
    size: int


@dataclass(frozen=True, slots=True)
class Sync:
    file: str


@dataclass(frozen=True, slots=True)
class Deletion:
    file: str


@dataclass(frozen=True, slots=True)
class Answered:
    """From here on somebody believes that these events are safe."""

    events: frozenset[str]


Moment = Write | Truncation | Sync | Deletion | Answered


class Recorder(apsw.VFS):
    """The file system SQLite writes through; `story` is what reached it, in order."""

    def __init__(self) -> None:
        super().__init__(NAME, "")
        self.story: list[Moment] = []

    def xOpen(self, name: Any, flags: list[int]) -> RecordedFile:
        return RecordedFile(self, name, flags)

    def xDelete(self, name: str, syncdir: bool) -> None:
        self.story.append(Deletion(os.path.basename(name)))
        super().xDelete(name, syncdir)


class RecordedFile(apsw.VFSFile):
    def __init__(self, recorder: Recorder, name: Any, flags: list[int]) -> None:
        super().__init__("", name, flags)
        self.story = recorder.story
        self.file = os.path.basename(name.filename() if isinstance(name, apsw.URIFilename) else name or "")

    def xWrite(self, data: bytes, offset: int) -> None:
        self.story.append(Write(self.file, offset, bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, size: int) -> None:
        self.story.append(Truncation(self.file, size))
        super().xTruncate(size)

    def xSync(self, flags: int) -> None:
        super().xSync(flags)
        self.story.append(Sync(self.file))


class ForgetfulDatabase(APSWDatabase):
    """The house's database over the recorder, with everything the house demands of it but `synchronous`."""

    def __init__(self, path: Path, synchronous: int) -> None:
        self.demanded_synchronous = synchronous
        super().__init__(str(path), timeout=BUSY_TIMEOUT_MS / 1000, autoconnect=False, vfs=NAME)

    def _add_conn_hooks(self, conn: Any) -> None:
        super()._add_conn_hooks(conn)
        check(conn, {**demanded(self.server_version), "synchronous": self.demanded_synchronous})


@dataclass
class Disk:
    """`safe` is what was synced; `loose` what was written since, file by file, in order."""

    safe: dict[str, bytearray]
    loose: dict[str, list[Write | Truncation]] = field(default_factory=dict)
    answered: frozenset[str] = frozenset()

    def take(self, moment: Moment) -> None:
        if isinstance(moment, Answered):
            self.answered |= moment.events
        elif isinstance(moment, Deletion):
            self.safe.pop(moment.file, None)
            self.loose.pop(moment.file, None)
        elif isinstance(moment, Sync):
            for one in self.loose.pop(moment.file, []):
                put(self.safe.setdefault(moment.file, bytearray()), one)
        else:
            self.loose.setdefault(moment.file, []).append(moment)

    def after_a_cut(self, dice: random.Random) -> dict[str, bytes]:
        """The files as they may be found when the power is back."""
        found = {file: bytearray(content) for file, content in self.safe.items()}
        for file, writes in self.loose.items():
            for one in perhaps(writes, dice):
                put(found.setdefault(file, bytearray()), one)
        return {file: bytes(content) for file, content in found.items()}


def put(content: bytearray, one: Write | Truncation) -> None:
    if isinstance(one, Truncation):
        del content[one.size :]
        return
    content.extend(bytes(max(0, one.at - len(content))))
    content[one.at : one.at + len(one.data)] = one.data


def perhaps(writes: Iterable[Write | Truncation], dice: random.Random) -> Iterator[Write | Truncation]:
    """Each write: half of the time lost, seldom cut at a sector, else whole."""
    for one in writes:
        chance = dice.random()
        if chance < 0.5:
            continue
        if isinstance(one, Write) and chance < 0.6:
            yield Write(one.file, one.at, one.data[: SECTOR * dice.randint(0, len(one.data) // SECTOR)])
        else:
            yield one


def left_after(
    story: list[Moment], begun: dict[str, bytes], cuts: int, seed: int
) -> Iterator[tuple[dict[str, bytes], frozenset[str]]]:
    """For each of so many cuts anywhere in the story: the files found, and what had been answered by then."""
    dice = random.Random(seed)
    points = sorted(dice.randint(0, len(story)) for _ in range(cuts))
    disk, reached = Disk({file: bytearray(content) for file, content in begun.items()}), 0
    for point in points:
        for moment in story[reached:point]:
            disk.take(moment)
        reached = point
        yield disk.after_a_cut(dice), disk.answered


def files_of(database: Path) -> dict[str, bytes]:
    """A database and what stands beside it, as they lie on the disk."""
    there = {ending: database.with_name(database.name + ending) for ending in MARKED}
    return {path.name: path.read_bytes() for path in there.values() if path.exists()}
