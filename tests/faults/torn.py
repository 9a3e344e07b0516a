"""What a power cut can leave of a SQLite file and its write-ahead log, made from files that stood still at one moment.

Everything up to the last commit that ended is on the disk: with `synchronous=FULL` the log is synced before the commit is
noted in the shared memory (`-shm`, whose header says up to which frame), and before anybody is answered. What was written
since may be there, cut off, missing or garbage, sector by
sector. A page of the main file that the log holds too may be half written (a checkpoint was under way); page 1 apart, whose
first sector a disk writes whole. After the cut, `-shm` may hold anything.
"""

import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

HEADER, FRAME, SECTOR, HEADER_OF_SHARED = 32, 24, 512, 48


@dataclass(frozen=True)
class Log:
    """A write-ahead log: where what is surely synced ends, and the pages that this part holds."""

    size: int
    page_size: int
    synced: int
    pages: frozenset[int]


def read_log(log: Path, shared: Path) -> Log:
    """Read the frames of commits that ended. Numbers of the log stand big end first, those of the shared memory as here."""
    data = log.read_bytes() if log.exists() else b""
    index = shared.read_bytes()[:HEADER_OF_SHARED] if shared.exists() else b""
    if len(data) < HEADER or len(index) < HEADER_OF_SHARED:
        return Log(len(data), 4096, min(len(data), HEADER), frozenset())
    page_size, same = int.from_bytes(data[8:12]), data[16:24] == index[32:40]
    frames = int.from_bytes(index[16:20], sys.byteorder) if same else 0  # otherwise a new log has just been begun
    starts = range(HEADER, HEADER + frames * (FRAME + page_size), FRAME + page_size)
    assert all(data[at + 8 : at + 16] == data[16:24] for at in starts)
    return Log(
        len(data),
        page_size,
        HEADER + len(starts) * (FRAME + page_size),
        frozenset(int.from_bytes(data[at : at + 4]) for at in starts),
    )


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
    found = read_log(copy.log, copy.shared)
    with copy.log.open("r+b") as file:
        file.truncate(dice.randint(found.synced, found.size))
    copy.shared.write_bytes(dice.randbytes(32768))


def scattered(copy: Copy, dice: Random) -> None:
    """Of what was not synced, some sectors are there, some are empty, some are garbage."""
    found = read_log(copy.log, copy.shared)
    with copy.log.open("r+b") as file:
        for at in range(found.synced, found.size, SECTOR):
            length = min(SECTOR, found.size - at)
            file.seek(at)
            file.write(dice.choice((bytes(length), dice.randbytes(length), _there(copy.log, at, length))))
    copy.shared.unlink(missing_ok=True)


def half_moved(copy: Copy, dice: Random) -> None:
    """A checkpoint was under way: pages that the log holds are half written in the main file; the log ends anywhere."""
    found = read_log(copy.log, copy.shared)
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
