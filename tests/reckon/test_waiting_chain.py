"""What waits at a farm is told from the chain that its book has: long stored sheets too, each with its weight from home."""

from contextlib import closing
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from bot.books import entries, open_books
from bot.reckon.tracing import receipts
from bot.reckon.waiting import sheets_there, waiting
from parsers.reading import Block, Record, What
from tests.books import made

FIRST = date(2026, 1, 5)


def test_sheets_stored_for_months_wait_with_their_weight_from_home(tmp_path: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books, books.transaction() as tx:
        farm = made.a_farm(tx, blocks={"1": Block(300, Decimal(16))})
        ama = made.a_person(tx, farm.id, "+447700900301", "Ama")
        made.a_text(tx, "t1", ama.number)
        for record in (
            Record(What.SHEETS_ROLLED, FIRST, count=20),
            Record(What.SHEETS_DRY, FIRST + timedelta(days=8), count=20, kg=Decimal(11)),
        ):
            made.a_line(tx, farm.id, ama.id, "t1", record=record)

        found = waiting(tx, farm, FIRST + timedelta(days=150))

        assert found.sheets == 20
        assert round(found.weight.kg, 3) == 11


def test_a_take_is_held_against_the_chain_without_itself(tmp_path: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books, books.transaction() as tx:
        farm = made.a_farm(tx, blocks={"1": Block(300, Decimal(16))})
        ama = made.a_person(tx, farm.id, "+447700900301", "Ama")
        made.a_text(tx, "t1", ama.number)
        made.a_line(tx, farm.id, ama.id, "t1", record=Record(What.SHEETS_ROLLED, FIRST, count=20))
        taken = Record(What.COLLECTED, FIRST + timedelta(days=9), sheets=20, kg=Decimal(10))
        take = made.a_line(tx, farm.id, ama.id, "t1", record=taken)
        day = FIRST + timedelta(days=12)

        assert sheets_there(tx, farm, day).hanging == ()
        before = sheets_there(tx, farm, day, without=lambda each: each.id == take.id, first=taken.day)

        assert sum(each.count for each in before.hanging) == 20


def test_a_receipt_has_the_number_that_its_collector_gave(tmp_path: Path) -> None:
    from tests.talk import cooperative

    hills = cooperative.Cooperative(cooperative.opened(tmp_path))
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    with hills.books.transaction() as tx:
        (receipt,) = receipts(tx, hills.ama)
        assert receipt.entry is not None
        assert receipt.number == entries.receipt_number(tx, receipt.entry) == 1001
    hills.books.close()
