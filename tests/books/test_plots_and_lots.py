"""Plots and lots in the books, on both engines."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from threading import Barrier

import pytest

from bot.books import Books, Transaction, farms, lots, open_books, plots
from bot.books.lots import LotRefused
from bot.books.model import Entry
from bot.rubber.geojson import point
from parsers.reading import Block
from tests.books.made import NOW, a_farm, with_a_line


def test_a_plot_comes_out_as_it_went_in_and_one_that_ended_does_not(books: Books) -> None:
    shape = point("7.100000", "100.500000")
    with books.transaction() as tx:
        farm = a_farm(tx, blocks={"3": Block(280, hectares=Decimal("1.25"))})
        block = farms.blocks(tx, farm.id)["3"]
        plots.add(tx, farm.id, block.id, "By the road", shape, 12_500, at=NOW)
        with pytest.raises(plots.NameTaken):
            plots.add(tx, farm.id, block.id, "by the road", shape, 12_500, at=NOW)

    with books.transaction() as tx:
        (found,) = plots.of_farm(tx, farm.id)
        assert (found.block, found.name, found.shape, found.square_metres) == ("3", "By the road", shape, 12_500)
        assert block.square_metres == 12_500
        assert plots.end(tx, farm.id, "BY THE ROAD", at=NOW)
        assert plots.everywhere(tx) == []
        plots.add(tx, farm.id, block.id, "By the road", shape, 12_500, at=NOW)


def put(tx: Transaction, line: Entry, name: str, grams: int, of: int = 10_000) -> None:
    lots.add_take(tx, lots.named(tx, name), line.farm_id, line.id, grams, of, at=NOW)


def test_what_is_taken_out_of_a_lot_can_go_into_another(books: Books) -> None:
    line = with_a_line(books)
    with books.transaction() as tx:
        for name in ("A", "B"):
            lots.new(tx, name, "rubber", "", at=NOW)
        put(tx, line, "A", 6_000)
        with pytest.raises(LotRefused, match="Only 4000 g"):
            put(tx, line, "B", 4_001)
        put(tx, line, "B", 4_000)
        (part,) = lots.takes(tx, lots.named(tx, "a"))
        lots.take_out(tx, lots.named(tx, "A"), part, at=NOW)
        lots.take_out(tx, lots.named(tx, "A"), part, at=NOW)  # twice gives nothing back twice
        assert lots.taken_up(tx, line.id) == 4_000
        put(tx, line, "B", 6_000)
        assert [each.grams for _, each in lots.of_farm(tx, line.farm_id)] == [4_000, 6_000]


def test_a_receipt_cannot_be_put_in_whole_at_once_beyond_its_weight(books: Books) -> None:
    line = with_a_line(books)
    with books.transaction() as tx:
        lots.new(tx, "A", "rubber", "", at=NOW)
        with pytest.raises(LotRefused, match="Only 10000 g"):
            put(tx, line, "A", 10_001)


def test_a_closed_lot_keeps_its_statement_and_takes_nothing(books: Books) -> None:
    line = with_a_line(books)
    with books.transaction() as tx:
        lot = lots.new(tx, "A", "rubber", "", at=NOW)
        put(tx, line, "A", 6_000)
        assert lots.sold_of_farm(tx, line.farm_id, NOW.date(), NOW.date()) == {}
        lots.close(tx, lot, 9_000, "Harbour Trading", {"plots": ["ยาง"]}, at=NOW)

    with books.transaction() as tx:
        day, week = NOW.date(), timedelta(days=7)
        sold = lots.sold_of_farm(tx, line.farm_id, day, day)
        assert [[each.grams for each in takes] for takes in sold.values()] == [[6_000]]
        assert lots.sold_of_farm(tx, line.farm_id, day - week, day - timedelta(days=1)) == {}
        assert lots.sold_of_farm(tx, line.farm_id, day + timedelta(days=1), day + week) == {}
        found = lots.named(tx, "A")
        assert (found.net_grams, found.buyer, found.statement) == (9_000, "Harbour Trading", {"plots": ["ยาง"]})
        for change in (
            lambda: put(tx, line, "A", 1),
            lambda: lots.add_unknown(tx, lot, 1, "", at=NOW),
            lambda: lots.close(tx, lot, 1, "", {}, at=NOW),
        ):
            with pytest.raises(LotRefused, match="closed"):
                change()


def test_of_many_who_put_the_same_receipt_into_lots_at_one_moment_each_gram_goes_to_one(where: str) -> None:
    books = open_books(where)
    line = with_a_line(books)
    names = [f"L{n}" for n in range(8)]
    with books.transaction() as tx:
        for name in names:
            lots.new(tx, name, "rubber", "", at=NOW)
    start = Barrier(len(names))

    def one(name: str) -> bool:
        start.wait(timeout=30)
        try:
            books.run_transaction(lambda tx: put(tx, line, name, 3_000))
        except LotRefused:
            return False
        return True

    with ThreadPoolExecutor(len(names)) as crowd:
        done = list(crowd.map(one, names))

    assert sum(done) == 3
    with books.transaction() as tx:
        assert lots.taken_up(tx, line.id) == 9_000
        assert sum(each.grams for name in names for each in lots.takes(tx, lots.named(tx, name))) == 9_000
    books.close()
