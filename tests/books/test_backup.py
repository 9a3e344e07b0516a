"""Backups of both engines: whole, of one moment while texts flow in, never a half file, and the oldest go."""

import os
import sqlite3
import stat
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from datetime import timedelta
from itertools import count
from pathlib import Path

import pytest

from bot.books import Books, BooksError, BooksFull, NotADayBook, entries, farms, open_books
from bot.books.backup import back_up, backups, check_whole
from bot.books.errors import BadBackup, BooksDamaged
from bot.books.migrations import files, migrate
from bot.books.store import engine_at
from bot.books.tables import tables
from tests.books import made


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "backups"


def contents(path: Path) -> dict[str, list[tuple]]:
    """Every table of a file, read without any code of ours."""
    with closing(sqlite3.connect(path)) as raw:
        names = [row[0] for row in raw.execute("select name from sqlite_master where type = 'table' order by name")]
        return {name: sorted(raw.execute(f"select * from {name}"), key=repr) for name in names}


@contextmanager
def flowing(books: Books) -> Iterator[None]:
    """Lines are entered by two threads as fast as they can, each with its text and a text to others."""
    line, stop, numbers = made.with_a_line(books), threading.Event(), count()

    def enter(tx) -> None:
        message_id = f"flow-{next(numbers)}"
        made.a_text(tx, message_id)
        made.a_line(tx, line.farm_id, line.by.id, message_id)
        made.a_waiting_text(tx, key=message_id, because=message_id)

    def flow() -> None:
        while not stop.is_set():
            books.run_transaction(enter)

    with ThreadPoolExecutor(2) as threads:
        running = [threads.submit(flow) for _ in range(2)]
        try:
            yield
        finally:
            stop.set()
    for each in running:
        each.result()


def test_a_backup_is_a_day_book_of_the_same_lines(books: Books, where: str, folder: Path) -> None:
    line = made.with_a_line(books)

    backup = back_up(where, folder, made.NOW, keep=3)

    with closing(open_books(backup.file)) as copy, copy.reading() as tx:
        assert entries.standing(tx, line.farm_id) == [line]
    assert backup.measures["entries"].rows == 1
    assert backup.measures["entries"].sums["ml"] == 18_500


def test_a_backup_can_be_read_by_its_owner_only_and_is_one_file(books: Books, where: str, folder: Path) -> None:
    made.with_a_line(books)

    file = back_up(where, folder, made.NOW, keep=3).file

    assert [each.name for each in folder.iterdir()] == [file.name]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_backups_that_are_taken_while_lines_are_entered_are_whole_and_of_one_moment(
    books: Books, where: str, folder: Path
) -> None:
    with flowing(books):
        made_ones = [back_up(where, folder, made.NOW + timedelta(seconds=n), keep=9) for n in range(5)]

    for each in made_ones:
        held = contents(each.file)
        lines = {row[2] for row in held["entries"]} - {"m1"}
        texts = {row[0] for row in held["messages"]} - {"m1"}
        told = {row[4] for row in held["outbox"]}
        assert lines == texts == told
    rows = [each.measures["entries"].rows for each in made_ones]
    assert rows == sorted(rows)
    assert rows[0] < rows[-1]


def test_both_engines_give_the_same_backup(tmp_path: Path, postgres: str, folder: Path) -> None:
    """The rows of one day-book that was entered in both; only ids and times of the moment differ, so they are copied."""
    from bot.books.restore import move

    file = tmp_path / "books.sqlite"
    with closing(open_books(file)) as books:
        made.with_a_line(books)
        with books.transaction() as tx:
            made.a_text(tx, "m2", text="ตัดยาง 18 ลิตร 😀 'quoted' \\N \t\n")
    first = back_up(file, folder, made.NOW, keep=9).file
    move(first, postgres, folder, made.NOW)

    second = back_up(postgres, folder, made.NOW + timedelta(seconds=1), keep=9).file

    assert contents(second) == contents(first)


def test_the_oldest_backups_go_and_nothing_else_does(books: Books, where: str, folder: Path) -> None:
    folder.mkdir()
    other = folder / "books-mine.sqlite"
    other.touch()

    all_of_them = [back_up(where, folder, made.NOW + timedelta(days=n), keep=3) for n in range(5)]

    assert list(backups(folder).values()) == [each.file for each in all_of_them[2:]]
    assert [each.name for each in all_of_them[-1].removed] == [all_of_them[1].file.name]
    assert other.exists()


def test_what_a_killed_backup_left_is_removed_and_what_another_writes_is_not(
    books: Books, where: str, folder: Path
) -> None:
    folder.mkdir()
    dead, alive = folder / ".books-x.999999999.part", folder / f".books-x.{os.getppid()}.part"
    dead.touch()
    alive.touch()

    back_up(where, folder, made.NOW, keep=3)

    assert not dead.exists()
    assert alive.exists()


def test_damaged_books_give_no_backup_and_leave_the_older_ones(tmp_path: Path, folder: Path) -> None:
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        made.with_a_line(books)
    good = back_up(path, folder, made.NOW, keep=1).file
    damage(path)

    with pytest.raises(BooksDamaged):
        back_up(path, folder, made.NOW + timedelta(days=1), keep=1)

    assert [each.name for each in folder.iterdir()] == [good.name]
    check_whole(good)


def damage(path: Path) -> None:
    """One page of the middle is overwritten, as a bad disk does."""
    pages = path.stat().st_size // 4096
    with path.open("r+b") as file:
        for page in range(2, pages):
            file.seek(page * 4096)
            file.write(os.urandom(64))


def test_a_full_disk_gives_no_backup(books: Books, where: str) -> None:
    """Nothing is left behind in place of a backup where no room is left; /dev/full stands for such a disk."""
    with pytest.raises(BooksError):
        back_up(where, Path("/dev/full"), made.NOW, keep=1)


def test_no_room_for_the_copy_is_said_of_the_copy(
    tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        made.with_a_line(books)

    def small(self, target) -> None:
        target.execute("pragma max_page_count = 3")
        target.execute("create table big (x text)")
        target.execute("insert into big values (:x)", {"x": "x" * 100_000})

    monkeypatch.setattr("bot.books.sqlite.SqliteEngine.copy_pages", small)
    with pytest.raises(BooksFull, match="backups"):
        back_up(path, folder, made.NOW, keep=1)

    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("content", [None, b"", b"garbage" * 1000])
def test_what_is_no_day_book_gives_no_backup(tmp_path: Path, folder: Path, content: bytes | None) -> None:
    path = tmp_path / "books.sqlite"
    if content is not None:
        path.write_bytes(content)

    with pytest.raises(BooksError):
        back_up(path, folder, made.NOW, keep=1)

    assert list(folder.iterdir()) == []


def test_a_foreign_file_is_not_called_a_backup(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("create table things (id text)")

    with pytest.raises(NotADayBook, match="not a day-book"):
        check_whole(path)


def test_a_file_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(BadBackup, match="There is no file"):
        check_whole(tmp_path / "none.sqlite")


def test_a_row_that_refers_to_none_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        made.with_a_line(books)
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("delete from farms")
        raw.commit()

    with pytest.raises(BooksDamaged, match="refers to none"):
        check_whole(path)


@pytest.mark.parametrize("version", range(1, len(files())))
def test_books_of_an_earlier_version_are_backed_up_as_they_are(where: str, folder: Path, version: int) -> None:
    """A backup before an upgrade must not be an upgrade."""
    early = dict(list(files().items())[:version])
    engine = engine_at(where)
    with closing(engine), engine.session() as session:
        migrate(engine, session, early)

    file = back_up(where, folder, made.NOW, keep=1).file

    assert [row[0] for row in contents(file)["schema_changes"]] == list(early)
    with closing(engine_at(where)) as again, again.session() as session:
        assert migrate(again, session, early) == []


def test_a_table_comes_after_those_that_it_refers_to(tmp_path: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books, books.engine.session() as session:
        names = [table.name for table in tables(session)]
        for table in names:
            for row in session.execute(f"pragma foreign_key_list({table})"):
                assert names.index(row["table"]) <= names.index(table)


def test_farms_are_counted_by_the_database_itself(books: Books, where: str, folder: Path) -> None:
    with books.transaction() as tx:
        for n in range(7):
            made.a_farm(tx, f"Farm {n}")
        assert len(farms.all_farms(tx)) == 7

    assert back_up(where, folder, made.NOW, keep=1).measures["farms"].rows == 7
