"""What goes wrong with a database server: not there, a broken connection, others in the way, refused transactions."""

import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta

import pytest

from bot.books import Books, BooksError, BooksFull, BooksUnavailable, NotADayBook, entries, open_books, outbox, people
from bot.books.errors import BooksDamaged
from tests.books import made
from tests.books.test_processes import at_once

#: Distributed engines that speak PostgreSQL's protocol are strict about the order of transactions; so is this setting.
STRICT = "%20-cdefault_transaction_isolation%3Dserializable"


@pytest.fixture
def books(postgres: str) -> Iterator[Books]:
    opened = open_books(postgres)
    yield opened
    opened.close()


@pytest.fixture
def strict_books(postgres: str) -> Iterator[Books]:
    opened = open_books(postgres + STRICT)
    yield opened
    opened.close()


@pytest.mark.usefixtures("postgres")
@pytest.mark.parametrize(
    "address",
    [
        "postgresql://books@/postgres?host=/nonexistent",
        "postgresql://127.0.0.1:1/books",
        "postgresql://books@/x?nonsense=1",
    ],
)
def test_a_server_that_is_not_there_says_so(address: str) -> None:
    with pytest.raises(BooksUnavailable, match="cannot be reached"):
        open_books(address)


def test_a_database_that_is_not_there_says_so(postgres: str) -> None:
    with pytest.raises(BooksUnavailable, match="does not exist"):
        open_books(postgres.replace("/postgres?", "/no_such_database?"))


def test_a_broken_connection_costs_one_transaction_at_most(books: Books) -> None:
    line = made.with_a_line(books)

    def broken() -> None:
        with books.transaction() as tx:
            made.a_text(tx, "m2")
            with books.engine.session() as other:
                other.execute(
                    "select pg_terminate_backend(pid, 5000) from pg_stat_activity where state = 'idle in transaction'"
                )
            made.a_line(tx, line.farm_id, line.by.id, "m2")

    with pytest.raises(BooksUnavailable, match="Try again"):
        broken()

    with books.transaction() as tx:
        assert entries.standing(tx, line.farm_id) == [line]
        assert made.a_text(tx, "m2")


def test_connections_that_broke_while_idle_are_not_noticed(books: Books) -> None:
    with closing(open_books_again(books)) as other, other.engine.session() as killer:
        killer.execute(
            "select pg_terminate_backend(pid, 5000) from pg_stat_activity where usename = current_user and pid <> pg_backend_pid()"
        )

    books.check()


def open_books_again(books: Books) -> Books:
    with books.engine.session() as session:
        schema = session.execute("select current_schema() as name")[0]["name"]
        folder = session.execute("show unix_socket_directories")[0]["unix_socket_directories"]
    return open_books(f"postgresql://books@/postgres?host={folder}&options=-csearch_path%3D{schema}")


@pytest.mark.parametrize(
    ("state", "kind", "says"),
    [
        ("53100", BooksFull, "No room"),
        ("XX001", BooksDamaged, "damaged"),
        ("25006", BooksUnavailable, "no writing"),
        ("42501", NotADayBook, "owner"),
        ("57P03", BooksUnavailable, "cannot be used now"),
    ],
)
def test_what_the_server_says_is_explained(books: Books, state: str, kind: type[BooksError], says: str) -> None:
    """The states are those of appendix A of PostgreSQL's documentation."""

    def fail() -> None:
        with books.transaction(), books.engine.session() as other:
            other.execute(f"do $$ begin raise exception using errcode = '{state}'; end $$")

    with pytest.raises(kind, match=says):
        fail()

    books.check()


def test_a_line_that_others_hold_is_not_waited_for_for_ever(books: Books, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bot.books.postgres.LOCK_MS", 20)
    books.check()
    with books.engine.session() as session:
        session.execute("begin")
        session.execute("update heartbeats set beats = 0")
        with closing(open_books_again(books)) as other, pytest.raises(BooksUnavailable, match="lock timeout"):
            other.check()
        session.roll_back()


def test_transactions_that_block_each_other_are_done_again(books: Books) -> None:
    """Each of the two takes its own text and then the other's: PostgreSQL ends one (40P01), which is done again."""
    with books.transaction() as tx:
        ids = [made.a_waiting_text(tx) for _ in range(2)]
    both_hold_one = threading.Barrier(2, timeout=10)
    tries = [0, 0]

    def take(first: int) -> None:
        def work(tx) -> None:
            tries[first] += 1
            outbox.sent(tx, ids[first], f"by {first}", at=made.NOW)
            if tries[first] == 1:
                both_hold_one.wait()
            outbox.sent(tx, ids[1 - first], f"by {first}", at=made.NOW)

        books.run_transaction(work)

    with ThreadPoolExecutor(2) as threads:
        list(threads.map(take, (0, 1)))

    assert sorted(tries) == [1, 2]
    with books.transaction() as tx:
        taken = {each.carrier_id for each in outbox.listing(tx, made.NOW, made.NOW.replace(year=2027))}
    assert len(taken) == 1  # the second of the two wrote both


def until_one_waits(books: Books) -> None:
    """Look at the server until a transaction waits for a lock."""
    until = time.monotonic() + 10
    with books.engine.session() as session:
        while time.monotonic() < until:
            if session.execute("select pid from pg_stat_activity where wait_event_type = 'Lock'"):
                return
    raise AssertionError("no transaction waits")


def test_who_loses_the_oldest_text_to_another_takes_the_next(books: Books) -> None:
    """The second statement had chosen the row that the first takes; it must not be told that none is due."""
    with books.transaction() as tx:
        ids = [made.a_waiting_text(tx, due_at=made.NOW - timedelta(hours=hours)) for hours in (2, 1)]

    with ThreadPoolExecutor(1) as other, books.transaction() as tx:
        first = outbox.claim(tx, made.NOW)
        second = other.submit(books.run_transaction, lambda tx: outbox.claim(tx, made.NOW))
        until_one_waits(books)

    assert [first.id, second.result().id] == ids


def test_the_lock_of_the_schema_may_be_made_by_two_at_once(books: Books, postgres: str) -> None:
    with books.engine.session() as session:
        for table in [row["name"] for row in session.execute(books.engine.tables)]:
            session.execute(f"drop table {table} cascade")
        with ThreadPoolExecutor(1) as other:
            session.execute("begin")
            session.execute("create table schema_lock (id text primary key)")
            opened = other.submit(open_books, postgres)
            until_one_waits(books)
            session.execute("commit")

    opened.result().check()
    opened.result().close()


def test_transactions_that_a_strict_engine_turns_down_are_done_again(strict_books: Books) -> None:
    """Four threads read a size and write it bigger by one: none of the changes may be lost (40001 is tried again)."""
    with strict_books.transaction() as tx:
        farm = made.a_farm(tx)
        person = made.a_person(tx, farm.id)

    def enrol_once_more(_: int) -> None:
        def work(tx) -> None:
            known = people.person_by_number(tx, person.number)
            people.set_language(tx, known.id, f"{int(known.language) + 1 if known.language.isdecimal() else 1}")

        strict_books.run_transaction(work)

    with ThreadPoolExecutor(4) as threads:
        list(threads.map(enrol_once_more, range(40)))

    with strict_books.transaction() as tx:
        assert people.person_by_number(tx, person.number).language == "40"


def test_a_strict_engine_gives_each_text_once_to_many_processes(strict_books: Books, postgres: str) -> None:
    with strict_books.transaction() as tx:
        ids = [made.a_waiting_text(tx, key=str(n)) for n in range(60)]

    assert sorted(at_once("claim", postgres + STRICT)) == sorted(ids)


def test_a_strict_engine_is_migrated_by_many_processes(postgres: str) -> None:
    assert at_once("open", postgres + STRICT) == ["opened"] * 4
