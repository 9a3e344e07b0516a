"""What a manager's texts about money cost at a cooperative of 1,000 farms, beside a collector's take. Prints ratios.

PYTHONPATH=. python tests/benchmarks/payouts.py [FARMS]
"""

import sys
import tempfile
from datetime import timedelta
from pathlib import Path

from bot.books import cooperatives, open_books, payouts, people
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from tests.benchmarks.collecting import START, collector, filled, name, timed

MANAGER = "+447739999999"

#: Days of takes that are open when all growers are paid out.
DAYS = 4


def main(count: int) -> None:
    """Fill the books, take from every farm on some days, and time what a manager texts."""
    with tempfile.TemporaryDirectory() as folder:
        books = open_books(Path(folder) / "books.sqlite")
        one = books.run_transaction(lambda tx: filled(tx, count))
        with books.transaction() as tx:
            person = people.known_as(tx, name="Hana", number=MANAGER, language="en", at=START)
            cooperatives.add_manager(tx, one.id, person.id, START)
        takes = [(collector(n), f"took 24 sheets 11.8 kg rss3 from {name(n)}") for n in range(count)]
        take = [timed(books, takes, day=day) for day in range(DAYS)][-1]
        some = range(0, count, max(1, count // 50))
        print(f"{count} farms with {DAYS} receipts each; a take is 1 (here {take:.1f} ms)")
        for text in ("levy 2%", "advance 5 {}", "acid 2 litres 3 {}", "pay out {}", "pay out"):
            spent = timed(books, [(MANAGER, text.format(name(n))) for n in some], day=DAYS)
            print(f"{text.format('NAME'):20} {spent / take:6.1f}")
        with books.transaction() as tx:
            owner = next(each.person for each in people.owners(tx))
        for who, text in ((MANAGER, "day"), (owner.number, "my pay-outs"), (owner.number, "week")):
            print(f"{text:20} {timed(books, [(who, text)] * 10, day=DAYS) / take:6.1f}")
        at = START + timedelta(days=DAYS, hours=2)
        said = answer(books, Incoming("proposal", MANAGER, "pay out", at, at, "practice"), at).text or ""
        print(f"  {said[:150]}")
        total = said.partition("pay out all ")[2].split(" ")[0].rstrip(".")
        spent = timed(books, [(MANAGER, f"pay out all {total}")], day=DAYS)
        print(f"{'pay out all SUM':20} {spent / take:6.1f}  {spent / take / count:.2f} for each grower")
        with books.transaction() as tx:
            print(f"{len(payouts.closed(tx, one.id, 2 * count))} pay-outs were closed")
        books.close()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
