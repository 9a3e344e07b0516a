"""Two collectors text the same lots at the same moment, on both engines: each lot is one take, each receipt its own number."""

import threading

from bot.books import Books, entries, people
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from parsers.reading import Role
from tests.talk.cooperative import ABU, MUSA, START, Cooperative


def test_each_lot_is_one_take(books: Books) -> None:
    hills = Cooperative(books)
    with books.transaction() as tx:
        for farm in (hills.ama, hills.yaw, hills.esi):
            who = {"language": "en", "blocks": (), "at": START, "message_id": None}
            people.enrol(tx, name="Abu", number=ABU, farm_id=farm.id, role=Role.COLLECTOR, **who)
    texts = [f"took {n + 10} sheets {n + 5}.5 kg rss3 from {('Ama', 'Yaw', 'Esi')[n % 3]}" for n in range(12)]
    start = threading.Barrier(2)

    def send(number: str) -> None:
        for n, text in enumerate(texts):
            start.wait(30)
            answer(books, Incoming(f"{number}-{n}", number, text, START, START, "practice"), START)

    senders = [threading.Thread(target=send, args=(number,)) for number in (MUSA, ABU)]
    for each in senders:
        each.start()
    for each in senders:
        each.join(120)

    takes = [entry for farm in (hills.ama, hills.yaw, hills.esi) for entry in hills.book(farm)]
    assert sorted(entry.record.sheets or 0 for entry in takes) == [n + 10 for n in range(12)]
    with books.transaction() as tx:
        numbers = sorted(entries.receipt_number(tx, entry) for entry in takes)
    assert numbers == list(range(1001, 1013))
