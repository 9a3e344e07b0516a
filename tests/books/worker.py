"""Work on books in a process of its own, for tests of several processes and of killed ones.

    python -m tests.books.worker WORK BOOKS

It says `ready`, waits for a line on its input, works, and says each thing that is done for good in a line.
"""

import sys
from datetime import timedelta
from itertools import count
from pathlib import Path

from bot.books import Books, entries, farms, open_books, outbox, people
from bot.books.engines import Session
from bot.books.migrations import migrate
from bot.books.restore import restore
from bot.books.store import engine_at
from tests.books import made


def open_(where: str) -> None:
    """Make or migrate the books."""
    open_books(where).close()
    _say("opened")


def half_migrate(where: str) -> None:
    """Stop in the midst of the first migration."""
    engine = engine_at(where)
    with engine.session() as session:
        migrate(engine, _Stopping(session))


class _Stopping:
    """A session that stands still after some statements."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self.roll_back = session.roll_back
        self._statements = count(1)

    def execute(self, sql: str, values: dict | None = None) -> list[dict]:
        rows = self._session.execute(sql, values)
        if next(self._statements) == 20:
            _say("half")
            sys.stdin.readline()
        return rows


def receive(where: str) -> None:
    """Take the same hundred texts as the others and enter a line for each that is new."""
    books = open_books(where)
    for n in range(100):
        if books.run_transaction(lambda tx, n=n: _enter_once(tx, f"m{n}")):
            _say(f"m{n}")


def correct(where: str) -> None:
    """Try to take the place of each line that stands."""
    books = open_books(where)
    with books.transaction() as tx:
        lines = entries.standing(tx, farms.all_farms(tx)[0].id)
    for line in lines:
        try:
            books.run_transaction(lambda tx, line=line: entries.remove(tx, line.id, message_id="m0", at=made.NOW))
        except entries.AlreadyReplaced:
            continue
        _say(line.id)


def claim(where: str) -> None:
    """Take texts from the outbox until none is due."""
    books = open_books(where)
    while (text := books.run_transaction(lambda tx: outbox.claim(tx, made.NOW))) is not None:
        _say(text.id)


def enrol(where: str) -> None:
    """Enrol the same twenty people as the others."""
    books = open_books(where)
    farm_id = _farm_id(books)
    for n in range(20):
        books.run_transaction(lambda tx, n=n: made.a_person(tx, farm_id, f"+4477009002{n:02}", "Ama"))
    _say("enrolled")


def stop_within(where: str) -> None:
    """Enter a line and stand still before the end of the transaction."""
    books = open_books(where)
    with books.transaction() as tx:
        _enter_once(tx, "unfinished")
        _say("entered")
        sys.stdin.readline()


def enter_for_ever(where: str) -> None:
    """Enter lines with a text to others, and say each as soon as it is in the books."""
    books = open_books(where)
    with books.transaction() as tx:
        first = len(entries.standing(tx, farms.all_farms(tx)[0].id))
    for n in count(first):
        books.run_transaction(lambda tx, n=n: _enter_and_tell(tx, f"m{n}"))
        _say(f"m{n}")


def put_back(where_and_file: str) -> None:
    """Restore a backup over newer books."""
    where, file = where_and_file.split(" ")
    restore(Path(file), where, Path(file).parent, made.NOW + timedelta(hours=1), replace_newer=True)
    _say("restored")


def _enter_once(tx: made.Transaction, message_id: str) -> bool:
    if not made.a_text(tx, message_id):
        return False
    farm = farms.all_farms(tx)[0]
    person = people.person_by_number(tx, made.TOBIN)
    assert person is not None
    made.a_line(tx, farm.id, person.id, message_id, entered_at=made.NOW + timedelta(seconds=1))
    return True


def _enter_and_tell(tx: made.Transaction, message_id: str) -> None:
    _enter_once(tx, message_id)
    made.a_waiting_text(tx, key=message_id, because=message_id)


def _farm_id(books: Books) -> str:
    with books.transaction() as tx:
        return farms.all_farms(tx)[0].id


def _say(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    _say("ready")
    sys.stdin.readline()
    {
        "open": open_,
        "half-migrate": half_migrate,
        "receive": receive,
        "correct": correct,
        "claim": claim,
        "enrol": enrol,
        "stop-within": stop_within,
        "enter-for-ever": enter_for_ever,
        "restore": put_back,
    }[sys.argv[1]](sys.argv[2])
