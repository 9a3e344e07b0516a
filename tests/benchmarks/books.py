"""What the day-book costs on top of bare SQLite: a text received, its line entered, its answer kept, one transaction.

    python tests/benchmarks/books.py [transactions]

Both sides work on a fresh file of the same schema in the same folder, take turns in rounds within one run, and run the
same three writing statements with the same synced commit; bare SQLite is given values made beforehand. The second pair
of figures leaves out the wait for the disk, so that it shows the work of the processor alone.
"""

import sqlite3
import sys
import tempfile
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.books import Books, entries, farms, messages, open_books, people
from bot.books.convert import moment_out, record_out
from bot.books.ids import new_id
from bot.books.statements import statements
from parsers.reading import Block, Record, Role, What

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
NUMBER = "+447700900102"
TEXT, REPLY = "block 3 18.5 litres rain", "Block 3, 18.5 L, rain: entered."
LATEX = Record(What.LATEX, date(2026, 3, 18), "3", Decimal("18.5"), rain=True)
ROUNDS = 10


def prepared(path: Path) -> tuple[Books, str, str]:
    """Books with one farm and one tapper; the ids of both."""
    books = open_books(path)
    with books.transaction() as tx:
        farm = farms.add_farm(
            tx,
            name="Reed Hollow",
            timezone="Asia/Bangkok",
            currency="USD",
            language="en",
            blocks={"3": Block(280, Decimal(16))},
            containers={},
            settings={},
            at=NOW,
        )
        tapper = people.enrol(
            tx,
            name="Tobin",
            number=NUMBER,
            language="en",
            farm_id=farm.id,
            role=Role.TAPPER,
            blocks=("3",),
            at=NOW,
            message_id=None,
        )
    return books, farm.id, tapper.person.id


def through_the_books(books: Books, farm_id: str, person_id: str) -> Callable[[str], None]:
    """The work as the product does it."""

    def work(message_id: str) -> None:
        with books.transaction() as tx:
            messages.receive(tx, message_id=message_id, carrier="bench", number=NUMBER, text=TEXT, at=NOW, arrived=NOW)
            entries.enter(
                tx, farm_id=farm_id, message_id=message_id, by=person_id, via=None, record=LATEX, entered_at=NOW
            )
            messages.close(tx, message_id, person_id=person_id, kind="entered", reply=REPLY, parts=1)

    return work


def bare(connection: sqlite3.Connection, farm_id: str, person_id: str) -> Callable[[str], None]:
    """The same writing statements, with nothing around them."""
    receive, enter, close = (statements()[name] for name in ("receive_message", "add_entry", "close_message"))
    at = moment_out(NOW)
    message = {"carrier": "bench", "number": NUMBER, "body": TEXT, "sent_at": at, "arrived_at": at}
    line: Mapping[str, Any] = {
        "farm_id": farm_id,
        "by_person": person_id,
        "via": None,
        "entered_at": at,
        "replaces": None,
        "removed": 0,
        "confirmed": 0,
        "computed": None,
        **record_out(LATEX),
    }
    answer = {"person_id": person_id, "kind": "entered", "reply": REPLY, "parts": 1}

    def work(message_id: str) -> None:
        connection.execute("begin immediate")
        connection.execute(receive, {"id": message_id, **message}).fetchall()
        connection.execute(enter, {"id": new_id(), "message_id": message_id, **line}).fetchall()
        connection.execute(close, {"id": message_id, **answer})
        connection.execute("commit")

    return work


def timed(work: Callable[[str], None], ids: count, times: int) -> list[float]:
    """Microseconds of each transaction."""
    taken = []
    for _ in range(times):
        message_id = f"m{next(ids)}"
        start = perf_counter()
        work(message_id)
        taken.append((perf_counter() - start) * 1e6)
    return taken


def compared(folder: Path, times: int, synchronous: str) -> tuple[list[float], list[float]]:
    """Microseconds of each transaction through the books and with bare SQLite; the two take turns."""
    books, *ids_of_books = prepared(folder / f"books-{synchronous}.sqlite")
    other, *ids_of_bare = prepared(folder / f"bare-{synchronous}.sqlite")
    other.close()
    connection = sqlite3.connect(folder / f"bare-{synchronous}.sqlite", isolation_level=None)
    connection.execute("pragma foreign_keys = on")
    connection.execute(f"pragma synchronous = {synchronous}")
    with books.engine.session() as session:
        session.execute(f"pragma synchronous = {synchronous}")
    works = (through_the_books(books, *ids_of_books), bare(connection, *ids_of_bare))
    ids, taken = count(1), ([], [])
    for _ in range(ROUNDS):
        for work, times_taken in zip(works, taken, strict=True):
            times_taken += timed(work, ids, times // ROUNDS)
    with books.transaction() as tx:
        assert len(entries.standing(tx, ids_of_books[0])) == times // ROUNDS * ROUNDS
    books.close()
    connection.close()
    return taken


def main() -> None:
    """Print medians, the ninety-ninth percentile and the ratio."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    print(f"{times} transactions on each side; microseconds, median (99th percentile)")
    with tempfile.TemporaryDirectory() as folder:
        for synchronous, title in (("full", "synced to the disk"), ("off", "without the disk's wait")):
            ours, theirs = (sorted(each) for each in compared(Path(folder), times, synchronous))
            shown = [f"{median(each):7.0f} ({each[len(each) * 99 // 100]:7.0f})" for each in (ours, theirs)]
            ratio = median(ours) / median(theirs)
            print(f"{title:24}  books {shown[0]}   bare sqlite3 {shown[1]}   ratio {ratio:.2f}")


if __name__ == "__main__":
    main()
