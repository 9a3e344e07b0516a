"""The schema's history: books of every earlier version open, those of a later one and those of others are left alone."""

import hashlib
import sqlite3
from pathlib import Path

import pytest

from bot.books import Books, NotADayBook, entries, open_books
from bot.books.migrations import files, migrate
from bot.books.store import engine_at
from tests.books import made

NAMES = list(files())


def run(where: str, *steps: str) -> list[dict]:
    engine = engine_at(where)
    with engine.session() as session:
        for sql in steps:
            rows = session.execute(sql)
    engine.close()
    return rows


def test_migrations_are_numbered() -> None:
    numbers = [int(name[:4]) for name in NAMES]

    assert numbers == sorted(set(numbers))


def test_a_second_opening_changes_nothing(where: str) -> None:
    open_books(where).close()
    before = run(where, "select * from schema_changes order by name")

    open_books(where).close()

    assert run(where, "select * from schema_changes order by name") == before
    assert [row["name"] for row in before] == NAMES


@pytest.mark.parametrize("version", range(1, len(NAMES)))
def test_books_of_an_earlier_version_are_brought_up_with_all_they_hold(where: str, version: int) -> None:
    early = {name: files()[name] for name in NAMES[:version]}
    engine = engine_at(where)
    with engine.session() as session:
        assert migrate(engine, session, early) == NAMES[:version]
    line = made.with_a_line_of_old(Books(engine))
    engine.close()

    books = open_books(where)

    books.check()
    with books.transaction() as tx:
        assert entries.standing(tx, line.farm_id) == [line]
    books.close()


def test_a_migration_that_fails_leaves_the_books_as_they_were(where: str) -> None:
    open_books(where).close()
    engine = engine_at(where)
    broken = files() | {"9998_broken": "create table later (id text primary key) {strict}; create nonsense"}
    with engine.session() as session, pytest.raises(Exception, match="syntax error"):
        migrate(engine, session, broken)
    engine.close()

    open_books(where).close()
    assert "later" not in {row["name"] for row in run(where, engine.tables)}


def test_an_edited_migration_is_noticed(where: str) -> None:
    open_books(where).close()
    run(where, f"update schema_changes set checksum = 'other' where name = '{NAMES[0]}'")

    with pytest.raises(NotADayBook, match=f"{NAMES[0]} was edited"):
        open_books(where)


def test_books_of_a_newer_version_are_left_alone(where: str) -> None:
    open_books(where).close()
    run(where, "insert into schema_changes values ('9999_later', 'x')")

    with pytest.raises(NotADayBook, match=r"newer version \(9999_later\): install that version"):
        open_books(where)


def test_a_database_of_somebody_else_is_refused(where: str) -> None:
    run(where, "create table things (id text primary key)")

    with pytest.raises(NotADayBook, match="TAPPING_LOG_BOOKS"):
        open_books(where)

    assert [row["name"] for row in run(where, engine_at(where).tables)] == ["things"]


def test_a_file_of_somebody_else_stays_as_it_is_to_the_byte(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as raw:
        raw.execute("create table things (id text)")
    raw.close()
    before = hashlib.sha256(path.read_bytes()).hexdigest()

    with pytest.raises(NotADayBook):
        open_books(path)

    assert hashlib.sha256(path.read_bytes()).hexdigest() == before
    assert [each.name for each in tmp_path.iterdir()] == ["other.sqlite"]


@pytest.mark.parametrize("content", ["garbage" * 200, "name,number\n", "SQLite format 3\0" + "x" * 500])
def test_a_file_that_is_no_database_is_refused(tmp_path: Path, content: str) -> None:
    path = tmp_path / "books.sqlite"
    path.write_text(content, encoding="utf-8")

    with pytest.raises(NotADayBook, match="is not a day-book"):
        open_books(path)

    assert path.read_text(encoding="utf-8") == content


def test_an_empty_file_becomes_a_day_book(tmp_path: Path) -> None:
    path = tmp_path / "books.sqlite"
    path.touch()

    books = open_books(path)
    books.check()
    books.close()
