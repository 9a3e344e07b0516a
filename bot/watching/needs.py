"""What needs a person and that no text brings to light: room on the disk, the age of the last backup, the clock.

Looked at by each run of `due`, and raised as alarms (once a day each, `bot.books.alarms`).
"""

import shutil
import time
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from bot.books import Transaction, alarms, last_done

#: Room on the disk, bytes, below which it is time to do something; and so many times what the books take.
LEAST_ROOM, TIMES_BOOKS = 500_000_000, 3

#: A backup each night, and one may be missed.
BACKUP_AGE = timedelta(hours=49)

#: Two looks at the clock may differ by so much from the time that passed between them.
CLOCK_STEP = timedelta(minutes=10)

_BOOT = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True)
class Running:
    """Since when this machine runs, by a clock that nobody sets: the name of its start and the seconds since then."""

    start: str
    seconds: float


def running(start: str | None) -> Running | None:
    """As the kernel tells it, or the service unit, from which the kernel's word is hidden; None where nobody does."""
    if start is None and _BOOT.exists():
        start = _BOOT.read_text().strip()
    return None if start is None else Running(start, time.clock_gettime(time.CLOCK_BOOTTIME))


def least_room(size: int) -> int:
    """Bytes that have to be free on the disk of books of that size."""
    return max(LEAST_ROOM, TIMES_BOOKS * size)


def sound_disk(tx: Transaction, places: Iterable[Path], size: int, now: datetime) -> None:
    """Raise it where a disk that books or backups lie on is nearly full."""
    disks = {there.stat().st_dev: there for there in map(existing, places)}
    for there in disks.values():
        free = shutil.disk_usage(there).free
        if free < least_room(size):
            gb = f"{free / 1e9:.1f}"
            line = f"Only {gb} GB are free at {there}: make room."
            alarms.sound(tx, number="", kind="disk", line=line, at=now, free=gb)


def existing(path: Path) -> Path:
    """The path, or the nearest folder above it that exists."""
    return next(each for each in (path.absolute(), *path.absolute().parents) if each.exists())


def sound_backup(tx: Transaction, now: datetime) -> None:
    """Raise it where the last backup of these books, by whatever machine, is too old; new books have time for their first."""
    made = last_done.last(tx, last_done.BACKUP)
    if made is None:
        last_done.note(tx, last_done.BACKUP, now, "none yet")
        return
    if now - made.at <= BACKUP_AGE:
        return
    if made.more:
        line = "There is no backup of the books yet: run tapping-log backup each night."
        alarms.sound(tx, number="", kind="backup none", line=line, at=now)
    else:
        line = f"The last backup is of {made.at:%Y-%m-%d %H:%M} UTC: see why none was made since (tapping-log backup)."
        alarms.sound(tx, number="", kind="backup old", line=line, at=now, day=made.at.date().isoformat())


def sound_clock(tx: Transaction, now: datetime, here: Running | None) -> None:
    """Raise it where the clock was set back or forth since the last look, on this machine or beside another one's."""
    before = last_done.last(tx, last_done.DUE)
    step = timedelta(0) if before is None else _step(before, now, here)
    if abs(step) > CLOCK_STEP:
        minutes = round(step.total_seconds() / 60)
        line = (
            f"The clock jumped by {minutes} minutes: set it right (timedatectl set-ntp true), then restart the server."
        )
        alarms.sound(tx, number="", kind="clock", line=line, at=now, minutes=minutes)
    more = "" if here is None else f"{here.start} {here.seconds:.0f}"
    last_done.note(tx, last_done.DUE, now, more)


def _step(before: last_done.Done, now: datetime, here: Running | None) -> timedelta:
    """By how much the clock went more than the time that passed; without a start in common only going back can be seen."""
    start, _, seconds = before.more.rpartition(" ")
    if here is not None and start == here.start:
        return now - before.at - timedelta(seconds=here.seconds - float(seconds))
    return min(now - before.at, timedelta(0))
