"""How long a cooperative of 1,000 farms takes: a check-in, a take, the closing of the day. Prints medians.

PYTHONPATH=. python tests/benchmarks/collecting.py [FARMS]
"""

import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from statistics import median

from bot.books import Books, Transaction, cooperatives, farms, open_books, people, places
from bot.speech.language import tongue
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from bot.week.closing import closing, in_words
from parsers.reading import Block, Role

START = datetime(2026, 3, 18, 3, 0, tzinfo=UTC)
A_COLLECTOR = 25


def filled(tx: Transaction, count: int) -> cooperatives.Cooperative:
    """A cooperative of so many farms, 25 to a collector, five to a place."""
    plain = {"timezone": "Asia/Bangkok", "currency": "USD", "language": "en"}
    one = cooperatives.add(tx, name="Wide Hills", closing_hour=19, at=START, **plain)
    cooperatives.set_price(tx, one.id, "RSS3", Decimal("1.55"), day=START.date(), at=START, message_id=None)
    made = []
    for n in range(count):
        blocks = {"1": Block(300, Decimal(18))}
        farm = farms.add_farm(tx, name=name(n), blocks=blocks, containers={}, settings={}, at=START, **plain)
        cooperatives.add_farm(tx, one.id, farm.id)
        who = {"farm_id": farm.id, "language": "en", "at": START, "message_id": None}
        people.enrol(tx, name=f"Owner {n}", number=f"+44770{n:07}", role=Role.OWNER, blocks=(), **who)
        for k in range(3):
            number = f"+44771{3 * n + k:07}"
            people.enrol(tx, name=f"Tapper {n} {k}", number=number, role=Role.TAPPER, blocks=("1",), **who)
        who["language"] = "en"
        people.enrol(
            tx, name=f"Collector {n // A_COLLECTOR}", number=collector(n), role=Role.COLLECTOR, blocks=(), **who
        )
        made.append(farm.id)
    for n in range(0, count, 5):
        place = places.set_place(tx, one.id, name=f"Gate {n // 5}", number=n // 5 + 1, farm_ids=made[n : n + 5])
        person = people.person_by_number(tx, collector(n))
        assert person is not None
        before = places.rounds_of(tx, person.id).get(2, ())
        places.set_round(tx, person.id, 2, [*before, place.id])
    return one


def name(n: int) -> str:
    """Names that differ: `Amber Ridge 17` and the like."""
    first, second = ("Amber", "Cedar", "Dusk", "Heron", "Iron"), ("Ridge", "Hollow", "Bend", "Meadow", "Ferry")
    return f"{first[n % 5]} {second[n // 5 % 5]} {n}"


def collector(n: int) -> str:
    """The number of the collector of a farm."""
    return f"+44772{n // A_COLLECTOR:07}"


def timed(books: Books, texts: list[tuple[str, str]], *, day: int) -> float:
    """Median milliseconds of some texts."""
    spent = []
    for n, (number, text) in enumerate(texts):
        at = START + timedelta(days=day, seconds=7 * n)
        began = time.perf_counter()
        answer(books, Incoming(f"{day}-{number}-{n}-{text[:9]}", number, text, at, at, "practice"), at)
        spent.append(1000 * (time.perf_counter() - began))
    return median(spent)


def main(count: int) -> None:
    """Fill the books, play a day, print what it took."""
    with tempfile.TemporaryDirectory() as folder:
        books = open_books(Path(folder) / "books.sqlite")
        one = books.run_transaction(lambda tx: filled(tx, count))
        some = range(0, count, max(1, count // 100))
        for n in range(count):
            timed(books, [(f"+44770{n:07}", "rolled 24 sheets")], day=-10)
        print(f"{count} farms, {count * 3} tappers, {-(-count // A_COLLECTOR)} collectors")
        print(f"ready on a round of 5 places: {timed(books, [(collector(n), 'ready') for n in some], day=0):.0f} ms")
        print(f"check-in: {timed(books, [(collector(n), f'at {n // 5 + 1}') for n in some], day=0):.0f} ms")
        takes = [(collector(n), f"took 24 sheets 11.8 kg rss3 from {name(n)}") for n in some]
        print(f"take with receipts: {timed(books, takes, day=0):.0f} ms")
        began = time.perf_counter()
        with books.transaction() as tx:
            said = in_words(closing(tx, one, START.date()), tongue("en"))
        print(f"closing with {count - len(takes)} farms not visited: {time.perf_counter() - began:.1f} s: {said[:120]}")
        books.close()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
