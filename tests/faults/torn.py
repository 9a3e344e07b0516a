"""What a power cut can leave of a SQLite file and its write-ahead log, made from files that stood still at one moment.

Everything up to the last synced commit is on the disk, since a commit with `synchronous=FULL` ends only when its log is
synced, and the next one is written after it. What was written since may be there, cut off, missing or garbage, sector by
sector. A page of the main file that the log holds too may be half written (a checkpoint was under way); page 1 apart, whose
first sector a disk writes whole. The file `-shm` is no part of the books and may hold anything.
"""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

HEADER, FRAME, SECTOR = 32, 24, 512


@dataclass(frozen=True)
class Log:
    """A write-ahead log: where what is surely synced ends, and the pages that this part holds."""

    size: int
    page_size: int
    synced: int
    pages: frozenset[int]


def read_log(path: Path) -> Log:
    """Read the frames of the log's present generation (its salts stand in header and frames, big end first)."""
    data = path.read_bytes() if path.exists() else b""
    if len(data) < HEADER:
        return Log(len(data), 4096, 0, frozenset())
    page_size, salts = int.from_bytes(data[8:12]), data[16:24]
    frame = FRAME + page_size
    ends, pages, seen, at = [], [], 0, HEADER
    while at + frame <= len(data) and data[at + 8 : at + 16] == salts:
        pages.append(int.from_bytes(data[at : at + 4]))
        at += frame
        seen += 1
        if int.from_bytes(data[at - frame + 4 : at - frame + 8]):
            ends.append(seen)
    if ends and ends[-1] == seen:
        ends.pop()  # nothing was written after it: it may not be synced yet
    kept = ends[-1] if ends else 0
    return Log(len(data), page_size, HEADER + kept * frame, frozenset(pages[:kept]))


@dataclass(frozen=True)
class Copy:
    """The files of one moment in a folder of their own."""

    books: Path

    @property
    def log(self) -> Path:
        return self.books.with_name(self.books.name + "-wal")

    @property
    def shared(self) -> Path:
        return self.books.with_name(self.books.name + "-shm")


def copied(books: Path, folder: Path) -> Copy:
    """Copy the file of the books with its log and its shared memory."""
    folder.mkdir()
    for path in (books, books.with_name(books.name + "-wal"), books.with_name(books.name + "-shm")):
        if path.exists():
            shutil.copyfile(path, folder / path.name)
    return Copy(folder / books.name)


def whole(copy: Copy, dice: Random) -> None:
    """All that was written reached the disk."""
    copy.shared.unlink(missing_ok=True)


def cut(copy: Copy, dice: Random) -> None:
    """The log ends somewhere behind what was synced."""
    found = read_log(copy.log)
    with copy.log.open("r+b") as file:
        file.truncate(dice.randint(found.synced, found.size))
    copy.shared.write_bytes(dice.randbytes(32768))


def scattered(copy: Copy, dice: Random) -> None:
    """Of what was not synced, some sectors are there, some are empty, some are garbage."""
    found = read_log(copy.log)
    with copy.log.open("r+b") as file:
        for at in range(found.synced, found.size, SECTOR):
            length = min(SECTOR, found.size - at)
            file.seek(at)
            file.write(dice.choice((bytes(length), dice.randbytes(length), _there(copy.log, at, length))))
    copy.shared.unlink(missing_ok=True)


def half_moved(copy: Copy, dice: Random) -> None:
    """A checkpoint was under way: pages that the log holds are half written in the main file; the log ends anywhere."""
    found = read_log(copy.log)
    with copy.books.open("r+b") as file:
        for page in sorted(found.pages - {1}):
            for at in range(0, found.page_size, SECTOR):
                if dice.random() < 0.5:
                    file.seek((page - 1) * found.page_size + at)
                    file.write(dice.randbytes(SECTOR))
    cut(copy, dice)


def _there(path: Path, at: int, length: int) -> bytes:
    with path.open("rb") as file:
        file.seek(at)
        return file.read(length)


WAYS: dict[str, Callable[[Copy, Random], None]] = {each.__name__: each for each in (whole, cut, scattered, half_moved)}
