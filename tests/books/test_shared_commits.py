"""Several who wait for the SQLite file share one commit; nobody is answered before it, and nobody's fault is another's."""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random
from typing import Any

import pytest

from bot.books import Books, BooksUnavailable, Transaction, open_books
from bot.books.engines import Values
from bot.books.sqlite import SqliteEngine

Work = Callable[[Transaction], None]


class Watched(SqliteEngine):
    """The real engine; it notes the statements that begin and end something, and what had been answered by each."""

    def __init__(self, path: Path, patience: float | None) -> None:
        super().__init__(path, patience)
        self.done: list[str] = []
        self.answered = 0
        self.answered_at_commits: list[int] = []

    def execute(self, sql: str, values: Values | None = None) -> list[dict[str, Any]]:
        if sql in ("commit", "begin immediate", "savepoint work", "rollback to work"):
            self.done.append(sql)
        if sql == "commit":
            self.answered_at_commits.append(self.answered)
        return super().execute(sql, values)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A file with books."""
    open_books(tmp_path / "books.sqlite").close()
    return tmp_path / "books.sqlite"


@contextmanager
def opened(path: Path, *, patience: float | None = 60.0) -> Iterator[tuple[Books, Watched]]:
    """Books whose threads wait for each other so long, and a pool of threads for them."""
    engine = Watched(path, patience)
    with engine.session() as session:
        engine.prepare(session)
    with closing(Books(engine)) as books:
        yield books, engine


def all_at_once(books: Books, engine: Watched, works: list[Work]) -> list[Future[None]]:
    """Let the works come one after the other while the books are kept, then let go of these."""
    with ThreadPoolExecutor(len(works)) as pool, books.transaction():
        engine.done.clear()
        engine.answered_at_commits.clear()
        found = []
        for n, work in enumerate(works):
            found.append(pool.submit(answered, books, engine, work))
            until(lambda n=n: engine.turns.waiting == n + 1)
    return found


def answered(books: Books, engine: Watched, work: Work) -> None:
    """Do a work as a text is answered."""
    books.run_transaction(work)
    engine.answered += 1


def until(true: Callable[[], bool]) -> None:
    """Wait for something that other threads bring about."""
    gate = threading.Event()
    for _ in range(10_000):
        if true():
            return
        gate.wait(0.001)
    raise AssertionError("it did not come about")


def beat(heart: str) -> Work:
    """A work that leaves a trace."""
    return lambda tx: tx.beat(heart)


def beats(path: Path, *hearts: str) -> list[int]:
    """What is on the disk, seen by another connection."""
    with closing(open_books(path)) as books, books.reading() as tx:
        return [tx.beats(heart) for heart in hearts]


def test_those_who_wait_share_one_commit(path: Path) -> None:
    with opened(path) as (books, engine):
        all_at_once(books, engine, [beat("a"), beat("b"), beat("c")])

        assert engine.done == ["commit", "begin immediate", "savepoint work", "savepoint work", "commit"]
    assert beats(path, "a", "b", "c") == [1, 1, 1]


def test_nobody_is_answered_before_the_commit_that_holds_his_work(path: Path) -> None:
    with opened(path) as (books, engine):
        all_at_once(books, engine, [beat("a"), beat("b"), beat("c")])

        assert engine.answered_at_commits == [0, 0]
        assert engine.answered == 3


def test_they_work_in_the_order_in_which_they_came(path: Path) -> None:
    order: list[int] = []
    with opened(path) as (books, engine):
        all_at_once(books, engine, [lambda _tx, n=n: order.append(n) for n in range(6)])

    assert order == [0, 1, 2, 3, 4, 5]


def test_one_who_fails_takes_nothing_of_the_others_with_him(path: Path) -> None:
    def fails(tx: Transaction) -> None:
        tx.beat("failed")
        raise LookupError("nobody")

    with opened(path) as (books, engine):
        before, failed, after = all_at_once(books, engine, [beat("a"), fails, beat("b")])

        assert isinstance(failed.exception(), LookupError)
        assert (before.exception(), after.exception()) == (None, None)
        assert engine.done.count("commit") == 2
    assert beats(path, "a", "failed", "b") == [1, 0, 1]


@pytest.mark.parametrize("place", [0, 2])
def test_the_first_or_the_last_may_fail_too(path: Path, place: int) -> None:
    def fails(tx: Transaction) -> None:
        tx.beat("failed")
        raise LookupError("nobody")

    works = [beat("a"), beat("b")]
    works.insert(place, fails)
    with opened(path) as (books, engine):
        found = all_at_once(books, engine, works)

        assert [type(each.exception()) for each in found].count(LookupError) == 1
    assert beats(path, "a", "failed", "b") == [1, 0, 1]


def test_where_the_file_takes_all_back_all_are_told_and_nothing_is_entered(path: Path) -> None:
    """As SQLite does for a full disk in the midst of a transaction."""
    with opened(path) as (books, engine):

        def fails(tx: Transaction) -> None:
            tx.beat("failed")
            engine.roll_back()
            raise sqlite3.OperationalError("disk I/O error")

        before, failed, after = all_at_once(books, engine, [beat("a"), fails, beat("b")])

        assert isinstance(before.exception(), BooksUnavailable)
        assert isinstance(failed.exception(), sqlite3.OperationalError)
        assert after.exception() is None
    assert beats(path, "a", "failed", "b") == [0, 0, 1]


def test_a_commit_that_fails_is_told_to_all_of_it(path: Path) -> None:
    """References that are looked at when the transaction ends make its commit fail."""

    def owes(tx: Transaction) -> None:
        engine.execute("pragma defer_foreign_keys = on")
        engine.execute("insert into other_farms (farm_id, name, name_key) values ('none', 'a', 'a')")

    with opened(path) as (books, engine):
        first, second = all_at_once(books, engine, [beat("a"), owes])
        books.run_transaction(beat("b"))

        assert first.exception() is not None
        assert second.exception() is not None
    assert beats(path, "a", "b") == [0, 1]


def test_a_page_is_not_kept_waiting_within_and_nobody_waits_for_a_page(path: Path) -> None:
    with opened(path) as (books, engine), ThreadPoolExecutor(3) as pool:

        def page() -> None:
            with books.transaction() as tx:
                engine.done.append("page")
                tx.beat("page")

        with books.transaction():
            engine.done.clear()
            pool.submit(books.run_transaction, beat("a"))
            until(lambda: engine.turns.waiting == 1)
            pool.submit(page)
            until(lambda: engine.turns.waiting == 2)
            pool.submit(books.run_transaction, beat("b"))
            until(lambda: engine.turns.waiting == 3)

    one = ["begin immediate", "commit"]
    assert engine.done == ["commit", *one, "begin immediate", "page", "commit", *one]


def test_where_commits_are_quick_each_has_his_own(path: Path) -> None:
    with opened(path, patience=0.0) as (books, engine):
        all_at_once(books, engine, [beat("a"), beat("b"), beat("c")])

        assert engine.done.count("commit") == 4


def test_one_who_gives_up_waiting_stops_nobody(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with opened(path) as (books, engine), ThreadPoolExecutor(1) as pool:
        with books.transaction():
            monkeypatch.setattr("bot.books.sqlite.TURN_SECONDS", 0.01)
            gave_up = pool.submit(books.run_transaction, beat("late"))
            assert isinstance(gave_up.exception(), BooksUnavailable)
        books.run_transaction(beat("a"))

        assert engine.turns.waiting == 0
    assert beats(path, "late", "a") == [0, 1]


@pytest.mark.parametrize("patience", [None, 0.0, 60.0])
def test_what_many_threads_do_is_there_as_often_as_they_were_told(path: Path, patience: float | None) -> None:
    def some(books: Books, seed: int) -> int:
        dice, done = Random(seed), 0
        for _ in range(60):
            fails = dice.random() < 0.2

            def work(tx: Transaction, fails: bool = fails) -> None:
                tx.beat("all")
                if fails:
                    raise LookupError("nobody")

            try:
                books.run_transaction(work)
                done += 1
            except LookupError:
                pass
            if dice.random() < 0.1:
                with books.reading() as tx:
                    tx.beats("all")
        return done

    with opened(path, patience=patience) as (books, _), ThreadPoolExecutor(8) as pool:
        told = sum(pool.map(lambda seed: some(books, seed), range(8)))

    assert beats(path, "all") == [told]
