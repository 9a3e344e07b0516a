"""A transaction that another one was in the way of is done again as a whole, and only then."""

import threading
from collections import Counter
from contextlib import suppress
from threading import BrokenBarrierError

import pytest

from bot.books import AlreadyReplaced, Books, Transaction, entries, open_books, people
from tests.books import made
from tests.books.made import NOW


def test_two_transactions_that_wait_for_each_other_are_both_done(books: Books, where: str) -> None:
    """On PostgreSQL they meet, one is turned down as a deadlock (SQLSTATE 40P01) and done again; SQLite lets one in."""
    with books.transaction() as tx:
        farm = made.a_farm(tx)
        pair = [made.a_person(tx, farm.id, f"+4477009002{n:02}").id for n in range(2)]
    met, tries = threading.Barrier(2), Counter()
    others = [open_books(where) for _ in pair]

    def block_both(n: int, tx: Transaction) -> None:
        tries[n] += 1
        people.block(tx, pair[n], NOW)
        made.a_text(tx, f"m{n}")
        if tries[n] == 1:
            with suppress(BrokenBarrierError):
                met.wait(timeout=20 if where.startswith("postgresql") else 0.3)
        people.block(tx, pair[1 - n], NOW)

    threads = [
        threading.Thread(target=others[n].run_transaction, args=(lambda tx, n=n: block_both(n, tx),)) for n in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for each in others:
        each.close()

    with books.transaction() as tx:
        assert all(each.person.blocked_at == NOW for each in people.members(tx, farm.id))
        assert not made.a_text(tx, "m0")
        assert not made.a_text(tx, "m1")
    assert sum(tries.values()) == (3 if where.startswith("postgresql") else 2)


@pytest.mark.parametrize("fault", [AlreadyReplaced, ZeroDivisionError])
def test_another_fault_is_not_tried_again(books: Books, fault: type[Exception]) -> None:
    tries = []

    def fails(tx: Transaction) -> None:
        tries.append(1)
        raise fault

    with pytest.raises(fault):
        books.run_transaction(fails)

    assert tries == [1]


def test_two_who_correct_one_line_at_once_leave_one_correction(books: Books, where: str) -> None:
    line = made.with_a_line(books)
    others, outcomes = [open_books(where) for _ in range(2)], []

    def correct(own: Books) -> None:
        try:
            own.run_transaction(lambda tx: entries.remove(tx, line.id, message_id="m1", at=NOW))
            outcomes.append("taken out")
        except AlreadyReplaced:
            outcomes.append("too late")

    threads = [threading.Thread(target=correct, args=(each,)) for each in others]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for each in others:
        each.close()

    assert sorted(outcomes) == ["taken out", "too late"]
