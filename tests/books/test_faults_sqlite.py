"""What goes wrong with a file: full disk, no right to write, damage, another process. Nothing half is ever entered."""

import os
import pwd
import shutil
import sqlite3
import tempfile
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from bot.books import Books, BooksError, BooksFull, BooksUnavailable, entries, messages, open_books, sqlite
from bot.books.errors import BooksDamaged
from tests.books import made


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "books.sqlite"


@pytest.fixture
def books(path: Path) -> Iterator[Books]:
    opened = open_books(path)
    yield opened
    opened.close()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user of the machine can reach (pytest's own is closed to others)."""
    folder = Path(tempfile.mkdtemp(prefix="day-book-"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


@contextmanager
def as_an_ordinary_user() -> Iterator[None]:
    """Rights do not bind root; the tests may run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(pwd.getpwnam("nobody").pw_uid)
    try:
        yield
    finally:
        os.seteuid(0)


def pragma(books: Books, text: str) -> object:
    with books.engine.session() as session:
        rows = session.execute(f"pragma {text}")
    return next(iter(rows[0].values())) if rows else None


def test_the_file_is_kept_the_safe_way(books: Books) -> None:
    assert pragma(books, "journal_mode") == "wal"
    assert pragma(books, "synchronous") == 2  # FULL
    assert pragma(books, "foreign_keys") == 1
    assert pragma(books, "busy_timeout") == sqlite.BUSY_MS
    with books.engine.session() as session:
        tables = session.execute("select sql from sqlite_master where type = 'table' and name <> 'schema_changes'")
    assert [each for each in tables if not each["sql"].rstrip().endswith("strict")] == []


def test_a_full_disk_says_so_enters_nothing_half_and_passes(books: Books) -> None:
    line = made.with_a_line(books)
    pragma(books, f"max_page_count = {pragma(books, 'page_count')}")

    def fill(n: int) -> None:
        with books.transaction() as tx:
            made.a_text(tx, f"full-{n}", text="x" * 1000)
            made.a_line(tx, line.farm_id, line.by.id, f"full-{n}")

    def fill_all() -> None:
        for n in range(500):
            fill(n)

    with pytest.raises(BooksFull, match="make room on the disk"):
        fill_all()
    with books.transaction() as tx:
        stored = {each.id for each in messages.latest_from(tx, line.by.number, 1000)}
        entered = {each.message_id for each in entries.standing(tx, line.farm_id)}
    assert stored == entered

    pragma(books, "max_page_count = 1000000")
    fill(1000)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_disk_that_is_full_from_the_start_is_not_taken_for_books() -> None:
    with pytest.raises(BooksError):
        open_books("/dev/full")


def test_a_file_without_the_right_to_write_says_so(open_folder: Path) -> None:
    path = open_folder / "books.sqlite"
    open_books(path).close()
    path.chmod(0o444)

    with as_an_ordinary_user(), pytest.raises(BooksUnavailable, match="the right to write the file and its folder"):
        open_books(path)


def test_a_folder_without_the_right_to_write_says_so(open_folder: Path) -> None:
    open_folder.chmod(0o555)

    with as_an_ordinary_user():
        with pytest.raises(BooksUnavailable, match="the right to write the file and its folder"):
            open_books(open_folder / "books.sqlite")
        with pytest.raises(BooksUnavailable, match="cannot be made"):
            open_books(open_folder / "deeper" / "books.sqlite")


def test_books_that_become_read_only_can_be_read_no_more_but_lose_nothing(books: Books) -> None:
    line = made.with_a_line(books)
    pragma(books, "query_only = on")

    with pytest.raises(BooksUnavailable, match="cannot be written"):
        books.check()

    pragma(books, "query_only = off")
    with books.transaction() as tx:
        assert entries.standing(tx, line.farm_id) == [line]


def test_a_folder_in_place_of_the_file_says_so(tmp_path: Path) -> None:
    with pytest.raises(BooksUnavailable, match="cannot be opened"):
        open_books(tmp_path)


def test_a_file_in_place_of_the_folder_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").touch()

    with pytest.raises(BooksUnavailable, match="cannot be made"):
        open_books(tmp_path / "file" / "books.sqlite")


def test_damaged_books_say_so(books: Books, path: Path) -> None:
    line = made.with_a_line(books)
    books.close()
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(4096)  # the first page stays: the file is still taken for a day-book
        file.write(os.urandom(size - 4096))

    with pytest.raises(BooksDamaged, match="last backup"):  # noqa: PT012
        damaged = open_books(path)
        with closing(damaged), damaged.transaction() as tx:
            entries.standing(tx, line.farm_id)


def test_books_that_another_process_keeps_say_so(books: Books, path: Path) -> None:
    pragma(books, "busy_timeout = 20")
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("begin immediate")
        with pytest.raises(BooksUnavailable, match="another process"):
            books.check()

    books.check()


def test_a_fresh_file_that_another_process_is_making_is_waited_for(path: Path) -> None:
    """SQLite itself gives up at once when a file is to be switched to its log while another writes the first page."""
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("begin immediate")
    release = threading.Timer(0.3, other.execute, ("rollback",))
    release.start()

    opened = open_books(path)
    opened.check()
    opened.close()
    release.join()
    other.close()


def test_a_thread_that_keeps_the_books_does_not_stop_the_others_for_ever(
    books: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "TURN_SECONDS", 0.02)
    kept, enough = threading.Event(), threading.Event()

    def keep() -> None:
        with books.transaction():
            kept.set()
            enough.wait(10)

    keeper = threading.Thread(target=keep)
    keeper.start()
    kept.wait(10)
    try:
        with pytest.raises(BooksUnavailable, match="are busy"):
            books.check()
    finally:
        enough.set()
        keeper.join()
    books.check()


def test_a_transaction_within_a_transaction_is_a_fault_of_ours(books: Books) -> None:
    with (
        pytest.raises(sqlite3.OperationalError, match="within a transaction"),
        books.transaction(),
        books.transaction(),
    ):
        pass

    books.check()


def test_a_copy_of_the_three_files_while_a_line_is_entered_opens_whole(
    books: Books, path: Path, tmp_path: Path
) -> None:
    """What a power cut leaves behind: the files as they were, between any two writes."""
    line = made.with_a_line(books)
    copy = tmp_path / "copy"
    copy.mkdir()
    with books.transaction() as tx:
        made.a_text(tx, "m2")
        made.a_line(tx, line.farm_id, line.by.id, "m2")
        for each in tmp_path.glob("books.sqlite*"):
            shutil.copy(each, copy)

    after = open_books(copy / "books.sqlite")
    with after.transaction() as tx:
        assert entries.standing(tx, line.farm_id) == [line]
    after.close()
