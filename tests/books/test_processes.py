"""Several processes on the same books at once, and processes that are killed at any moment."""

import subprocess
import sys
from collections import Counter
from pathlib import Path
from random import Random

import pytest

from bot.books import Books, entries, farms, messages, open_books, outbox, people
from bot.books.migrations import files
from tests.books import made

PROCESSES = 4
TOP = Path(__file__).parents[2]


def start(work: str, where: str) -> subprocess.Popen[str]:
    """A worker that has loaded everything and waits for the word."""
    worker = subprocess.Popen(
        [sys.executable, "-m", "tests.books.worker", work, where],
        cwd=TOP,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert worker.stdout is not None
    assert worker.stdout.readline() == "ready\n"
    return worker


def go(worker: subprocess.Popen[str]) -> None:
    assert worker.stdin is not None
    worker.stdin.write("go\n")
    worker.stdin.flush()


def at_once(work: str, where: str) -> list[str]:
    """What the workers said; every one of them must end well."""
    workers = [start(work, where) for _ in range(PROCESSES)]
    for worker in workers:
        go(worker)
    ended = [worker.communicate(timeout=60) for worker in workers]
    assert [fault for _, fault in ended] == [""] * PROCESSES
    return [line for said, _ in ended for line in said.split()]


def killed_after(work: str, where: str, lines: int) -> list[str]:
    """What a worker said before it was killed; it is killed when it has said so many lines."""
    worker = start(work, where)
    go(worker)
    assert worker.stdout is not None
    said = [worker.stdout.readline() for _ in range(lines)]
    worker.kill()
    rest = worker.stdout.read()  # `communicate` reads the pipe itself and loses what `readline` has read ahead
    worker.communicate(timeout=60)
    return [*(line.strip() for line in said), *rest.split()]


def test_all_may_make_the_books_at_once(where: str) -> None:
    assert at_once("open", where) == ["opened"] * PROCESSES

    books = open_books(where)
    books.check()
    books.close()


def test_a_text_that_all_receive_is_entered_once(books: Books, where: str) -> None:
    with books.transaction() as tx:
        made.a_person(tx, made.a_farm(tx).id)

    new = Counter(at_once("receive", where))

    assert set(new.values()) == {1}
    assert len(new) == 100
    with books.transaction() as tx:
        assert len(entries.standing(tx, farms.all_farms(tx)[0].id)) == 100


def test_a_line_that_all_take_out_is_taken_out_once(books: Books, where: str) -> None:
    first = made.with_a_line(books)
    with books.transaction() as tx:
        made.a_text(tx, "m0")
        for _ in range(40):
            made.a_line(tx, first.farm_id, first.by.id)

    taken = Counter(at_once("correct", where))

    assert set(taken.values()) == {1}
    assert len(taken) == 41


def test_a_waiting_text_is_claimed_once_and_none_is_left(books: Books, where: str) -> None:
    with books.transaction() as tx:
        ids = [made.a_waiting_text(tx, key=str(n)) for n in range(200)]

    claimed = Counter(at_once("claim", where))

    assert claimed == Counter(ids)


def test_people_whom_all_enrol_are_there_once(books: Books, where: str) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx)

    at_once("enrol", where)

    with books.transaction() as tx:
        assert Counter(each.person.number for each in people.members(tx, farm.id)) == Counter(
            f"+4477009002{n:02}" for n in range(20)
        )


def test_a_process_that_is_killed_within_a_transaction_leaves_no_trace(books: Books, where: str) -> None:
    line = made.with_a_line(books)

    assert killed_after("stop-within", where, 1) == ["entered"]

    with books.transaction() as tx:
        assert messages.message(tx, "unfinished") is None
        assert [each.id for each in entries.standing(tx, line.farm_id)] == [line.id]
        assert made.a_text(tx, "unfinished")


@pytest.mark.parametrize("seed", range(3))
def test_what_was_said_before_a_kill_is_in_the_books_once_and_whole(books: Books, where: str, seed: int) -> None:
    dice = Random(seed)
    with books.transaction() as tx:
        farm = made.a_farm(tx)
        made.a_person(tx, farm.id)

    said = [line for _ in range(3) for line in killed_after("enter-for-ever", where, dice.randint(5, 120))]

    with books.transaction() as tx:
        entered = [each.message_id for each in entries.standing(tx, farm.id)]
        told = [each.because for each in outbox.listing(tx, made.NOW, made.NOW.replace(year=2027))]
    assert len(set(entered)) == len(entered)
    assert set(said) <= set(entered)
    assert sorted(entered) == sorted(told)  # a line and its text to others are in the same transaction
    assert len(entered) - len(set(said)) <= 3  # at most the one that each kill left unsaid


def test_a_migration_that_is_killed_half_way_is_made_whole_later(where: str) -> None:
    assert killed_after("half-migrate", where, 1) == ["half"]

    books = open_books(where)
    made.with_a_line(books)
    with books.engine.session() as session:
        assert {row["name"] for row in session.execute("select name from schema_changes")} == set(files())
    books.close()
