"""Backups: one SQLite file of the whole books at one moment, taken while they are written to, checked, and rotated.

A backup is itself a day-book that every command can read, whatever engine it was taken from. SQLite's own backup copies the
pages; from PostgreSQL all rows are read within one transaction, without its client programs, so that neither their
version nor that of the server matters. A file that is not whole never gets a backup's name.
"""

import os
import re
from collections.abc import Collection, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from bot.books.engines import Engine, Session, is_address, shown
from bot.books.errors import BadBackup, BooksDamaged, BooksFull, BooksUnavailable, NotADayBook
from bot.books.migrations import files, migrate, noted
from bot.books.sqlite import SqliteEngine
from bot.books.store import engine_at, explained
from bot.books.tables import Fingerprint, Measure, fingerprint, measured, tables

_NAME = re.compile(r"books-(\d{8}T\d{6}\.\d{6}Z)\.sqlite")
_MOMENT = "%Y%m%dT%H%M%S.%fZ"

#: Files that were not finished, by the number of the process that wrote them.
_PART = re.compile(r"\.books-\S+\.(\d+)\.part")


@dataclass(frozen=True)
class Backup:
    """A backup that was made: its file, what it holds, and the older ones that were removed."""

    file: Path
    measures: dict[str, Measure]
    removed: tuple[Path, ...]


def back_up(where: str | Path, folder: Path, at: datetime, keep: int) -> Backup:
    """Write the books of this moment into the folder, check the file, and keep the newest `keep` backups there.

    Raises BooksError when the books cannot be read or the file cannot be written; older backups are then left alone.
    """
    with _said(folder):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        _remove_parts(folder)
        file = folder / f"books-{at.astimezone(UTC).strftime(_MOMENT)}.sqlite"
        measures = _write(where, file)
        return Backup(file, measures, tuple(_rotate(folder, keep)))


def backups(folder: Path) -> dict[datetime, Path]:
    """The backups in a folder by the moment they were taken, oldest first."""
    found = ((match, each) for each in folder.glob("books-*.sqlite") if (match := _NAME.fullmatch(each.name)))
    return dict(sorted((datetime.strptime(match[1], _MOMENT).replace(tzinfo=UTC), each) for match, each in found))


def _write(where: str | Path, file: Path) -> dict[str, Measure]:
    part = file.with_name(f".{file.stem}.{os.getpid()}.part")
    try:
        make_private(part)
        measures = save(where, part)
        _check_part(part, measures, where)
        synced(part)
        part.replace(file)
        synced(file.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return measures


def _check_part(part: Path, measures: dict[str, Measure], where: str | Path) -> None:
    try:
        check_whole(part, measures)
    except BooksDamaged as fault:
        raise BooksDamaged(f"The books {shown(where)} are damaged; the older backups are kept. {fault}") from fault


def save(where: str | Path, file: Path) -> dict[str, Measure]:
    """Write the books of this moment into an empty file; returns what they hold."""
    if not is_address(where) and not Path(where).is_file():
        raise BooksUnavailable(f"There are no books at {where}.")
    with closing(engine_at(where)) as engine, engine.session() as session, explained(engine):
        for statement in engine.begin_reading:
            session.execute(statement)
        try:
            return save_session(engine, session, file)
        finally:
            session.roll_back()


def save_session(engine: Engine, session: Session, file: Path) -> dict[str, Measure]:
    """As `save`, within a transaction that sees one moment."""
    applied = noted(engine, session)
    if not applied:
        raise NotADayBook("There is no day-book to make a backup of.")
    with closing(SqliteEngine(file)) as copy, explained(copy, BooksFull):
        if isinstance(engine, SqliteEngine):
            measures = measured(session, tables(session))
            engine.copy_pages(copy)
        else:
            measures = _save_rows(session, copy, applied.keys())
        copy.execute("pragma journal_mode = delete")  # so that the one file is all
    return measures


def _save_rows(session: Session, copy: SqliteEngine, applied: Collection[str]) -> dict[str, Measure]:
    migrate(copy, copy, {name: text for name, text in files().items() if name in applied})
    found, marks = tables(copy), {}
    for statement in copy.begin_filling:
        copy.execute(statement)
    for table in found:
        mark = Fingerprint()
        copy.fill(table, mark.over(session.rows(table)))
        marks[table.name] = mark.value
    copy.execute("commit")
    for table in found:
        if fingerprint(copy, table) != marks[table.name]:
            raise BadBackup(f"The table {table.name} was not copied as it is. Nothing was kept.")
    return measured(session, found)


def check_whole(file: Path, measures: dict[str, Measure] | None = None) -> None:
    """Check that a file is a day-book, whole, and holds what it should. Raises BadBackup, NotADayBook or BooksDamaged."""
    if not file.is_file():
        raise BadBackup(f"There is no file {file}.")
    with closing(SqliteEngine(file)) as engine, engine.session() as session, explained(engine):
        if not noted(engine, session):
            raise NotADayBook(f"{file} is not a day-book.")
        faults = integrity(session)
        if faults:
            raise BooksDamaged(f"{file} is damaged: {faults[0]}")
        if measures is not None and measured(session, tables(session)) != measures:
            raise BadBackup(f"{file} does not hold what the books hold. Nothing was kept.")


def integrity(session: Session) -> list[str]:
    """What SQLite finds wrong with a file, at most a hundred lines."""
    found = [str(row["integrity_check"]) for row in session.execute("pragma integrity_check")]
    loose = [f"a row of {row['table']} refers to none" for row in session.execute("pragma foreign_key_check")]
    return [line for line in found if line != "ok"] + loose[:100]


def _rotate(folder: Path, keep: int) -> Iterator[Path]:
    for each in list(backups(folder).values())[:-keep]:
        each.unlink(missing_ok=True)
        yield each


def _remove_parts(folder: Path) -> None:
    """What a backup left that was killed; one that is being written now belongs to a process that is alive."""
    for each in folder.glob(".books-*.part*"):
        match = _PART.match(each.name)
        if match is not None and not Path(f"/proc/{match[1]}").exists():
            each.unlink(missing_ok=True)


def make_private(file: Path) -> None:
    """An empty file that only its owner can read: books hold names and phone numbers."""
    os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))


def synced(path: Path) -> None:
    """What is written of a file or a folder is on the disk when this returns."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def _said(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise BadBackup(f"No backup can be written to {folder}: {fault.strerror}") from fault
