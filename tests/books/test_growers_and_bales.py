"""Growers' accounts, bales of lots, chosen cooperatives and earlier selves in the books, on both engines."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from threading import Barrier

import pytest

from bot.books import Books, Transaction, cooperatives, lot_bales, lots, open_books, payouts, people, storeroom, visits
from bot.books.cooperatives import Cooperative
from bot.books.lots import LotRefused
from bot.books.storeroom import Bale
from bot.reckon import payouts as reckoned
from bot.reckon.growers_own import accounts
from parsers.reading import Role
from tests.books.made import DAY, NOW, a_farm, a_person, a_text

BALE = Bale("RSS3", Decimal("111.11"))


def a_cooperative(tx: Transaction, name: str = "Three Hills") -> Cooperative:
    plain = {"timezone": "Asia/Bangkok", "currency": "USD", "language": "en", "closing_hour": 19, "at": NOW}
    return cooperatives.add(tx, name=name, **plain)


def with_bales(books: Books, pieces: int) -> Cooperative:
    """A cooperative whose store has so many bales."""
    with books.transaction() as tx:
        one = a_cooperative(tx)
        a_text(tx)
        storeroom.press(tx, one.id, BALE, pieces, day=DAY, at=NOW, message_id="m1")
        for name in ("A", "B"):
            lots.new(tx, name, "rubber", "", at=NOW)
    return one


def put(tx: Transaction, one: Cooperative, name: str, pieces: int) -> None:
    lot_bales.add(tx, lots.named(tx, name), one.id, BALE, pieces, day=DAY, at=NOW)


def test_bales_of_lots_leave_the_store_with_them_and_once(books: Books) -> None:
    one = with_bales(books, 10)
    with books.transaction() as tx:
        put(tx, one, "A", 4)
        put(tx, one, "B", 3)
        lot = lots.named(tx, "A")
        lot_bales.leave(tx, lot, one.id, DAY)
        lot_bales.leave(tx, lot, one.id, DAY)

    with books.transaction() as tx:
        assert storeroom.at(tx, one.id, DAY).pieces == {BALE: 6}
        assert storeroom.at(tx, one.id, DAY - timedelta(days=1)).pieces == {}
        assert lot_bales.in_open_lots(tx, one.id) == {BALE: 3}
        assert lot_bales.free(tx, one.id, DAY) == {BALE: 3}
        (own,) = lot_bales.of_lot(tx, lots.named(tx, "A"))
        assert (own.pieces, own.grams, own.pressed_first, own.pressed_last) == (4, 444_440, DAY, DAY)
        assert [(each.name, each.pieces, each.bale_grams) for each in lot_bales.lots_of(tx, one.id, 9)] == [
            ("B", 3, 333_330),
            ("A", 4, 444_440),
        ]


def test_of_many_who_put_the_same_bales_into_lots_at_one_moment_each_goes_to_one(where: str) -> None:
    books = open_books(where)
    one = with_bales(books, 9)
    names = [f"L{n}" for n in range(6)]
    with books.transaction() as tx:
        for name in names:
            lots.new(tx, name, "rubber", "", at=NOW)
    start = Barrier(len(names))

    def try_it(name: str) -> bool:
        start.wait(timeout=30)
        try:
            books.run_transaction(lambda tx: put(tx, one, name, 3))
        except LotRefused:
            return False
        return True

    with ThreadPoolExecutor(len(names)) as crowd:
        done = list(crowd.map(try_it, names))

    assert sum(done) == 3
    with books.transaction() as tx:
        assert lot_bales.in_open_lots(tx, one.id) == {BALE: 9}
        assert lot_bales.free(tx, one.id, DAY)[BALE] == 0
    books.close()


def test_a_grower_has_accounts_with_his_cooperative_and_with_former_ones(books: Books) -> None:
    with books.transaction() as tx:
        farm, other = a_farm(tx), a_farm(tx, "Far Meadow")
        first, second, third = (a_cooperative(tx, name) for name in ("First", "Second", "Third"))
        a_text(tx)
        own = {"day": DAY, "at": NOW, "message_id": "m1"}
        for one in (first, second):
            for each in (farm, other):
                payouts.add_money(tx, one.id, each.id, kind="advance", amount=Decimal(5), note="", **own)
        reckoned.close(tx, first, reckoned.owed(tx, first, farm.id), **own)
        cooperatives.add_farm(tx, third.id, farm.id)

    with books.transaction() as tx:
        assert [payouts.in_use(tx, each.id) for each in (first, second, third)] == [True, True, False]
        found = {each.cooperative.name: each for each in accounts(tx, farm, most=5)}
        assert list(found) == ["First", "Second", "Third"]
        assert [len(each.closed) for each in found.values()] == [1, 0, 0]
        assert found["First"].due.sums.carried == Decimal(5)
        assert [each.is_nothing for each in (found["Second"].due, found["Third"].due)] == [False, True]
        assert {each.farm_id for each in found["First"].closed} == {farm.id}


def test_what_a_manager_chose_last_holds(books: Books) -> None:
    with books.transaction() as tx:
        hana = people.known_as(tx, name="Hana", number="+447700900130", language="en", at=NOW)
        one, two = a_cooperative(tx), a_cooperative(tx, "Far Valley")
        assert cooperatives.chosen(tx, hana.id) is None
        for each in (one, two):
            cooperatives.choose(tx, hana.id, each.id, NOW)

    with books.transaction() as tx:
        assert cooperatives.chosen(tx, hana.id) == two.id


def test_a_changed_number_makes_no_other_person_of_somebody(books: Books) -> None:
    with books.transaction() as tx:
        farm = a_farm(tx)
        old = a_person(tx, farm.id)
        people.dismiss(tx, old.id, farm.id, Role.TAPPER, at=NOW)
        new = a_person(tx, farm.id, "+447700900188", "tobin")
        at_work = a_person(tx, farm.id, "+447700900189", "Tobin")

    with books.transaction() as tx:
        assert set(people.selves(tx, farm.id, "Tobin")) == {old.id, new.id, at_work.id}
        assert people.earlier_selves(tx, farm.id, new) == (old.id,)
        assert people.since_when(tx, farm.id, Role.TAPPER) == {new.id: NOW, at_work.id: NOW}


def test_a_role_that_was_changed_goes_on_and_one_that_ended_begins_anew(books: Books) -> None:
    later, last = NOW + timedelta(days=3), NOW + timedelta(days=9)
    with books.transaction() as tx:
        farm = a_farm(tx)
        tobin = a_person(tx, farm.id)
        who = {"name": "Tobin", "number": tobin.number, "language": "en", "farm_id": farm.id, "role": Role.TAPPER}
        people.enrol(tx, blocks=("3",), at=later, message_id=None, **who)
        assert people.since_when(tx, farm.id, Role.TAPPER) == {tobin.id: NOW}
        people.dismiss(tx, tobin.id, farm.id, None, at=later + timedelta(days=1))
        assert people.since_when(tx, farm.id, Role.TAPPER) == {}
        people.enrol(tx, blocks=("3",), at=last, message_id=None, **who)

    with books.transaction() as tx:
        assert people.since_when(tx, farm.id, Role.TAPPER) == {tobin.id: last}


def test_the_newest_empty_visits_come_first_and_those_withdrawn_not_at_all(books: Books) -> None:
    with books.transaction() as tx:
        one = a_cooperative(tx)
        places = [a_farm(tx, name) for name in ("First", "Second", "Third")]
        musa = a_person(tx, places[0].id, role=Role.COLLECTOR)
        a_text(tx)
        for n, farm in enumerate(places):
            at = NOW + timedelta(minutes=n)
            visits.add(tx, one.id, farm.id, musa.id, day=DAY, at=at, message_id="m1")
        visits.withdraw(tx, places[1].id, musa.id, day=DAY, at=NOW)

    with books.transaction() as tx:
        found = visits.newest(tx, one.id, musa.id, DAY)
        assert [each.farm_id for each in found] == [places[2].id, places[0].id]
        assert visits.newest(tx, one.id, musa.id, DAY + timedelta(days=1)) == []


@pytest.mark.parametrize("pieces", [0, 11])
def test_no_bale_is_put_into_a_lot_that_is_not_there(books: Books, pieces: int) -> None:
    one = with_bales(books, 10)
    with books.transaction() as tx, pytest.raises(LotRefused, match="should hold 10 bales"):
        put(tx, one, "A", pieces)


def pressed_on(books: Books, *days: int) -> Cooperative:
    """A store with five bales of each of these days, counted from the day, and lots A to C."""
    with books.transaction() as tx:
        one = a_cooperative(tx)
        a_text(tx)
        for after in days:
            storeroom.press(tx, one.id, BALE, 5, day=DAY + timedelta(days=after), at=NOW, message_id="m1")
        for name in ("A", "B", "C"):
            lots.new(tx, name, "rubber", "", at=NOW)
    return one


def pressings(tx: Transaction, name: str) -> dict[int, int]:
    found = lot_bales.of_lot(tx, lots.named(tx, name))
    return {(each.pressed_first - DAY).days: each.pieces for each in found}


def test_bales_that_were_taken_out_are_the_next_to_go_and_no_pressing_is_stated_twice(books: Books) -> None:
    one = pressed_on(books, -5, 0)
    with books.transaction() as tx:
        put(tx, one, "A", 5)
        put(tx, one, "B", 5)
        lot_bales.take_out(tx, lots.named(tx, "A"), one.id, BALE, 5, at=NOW)
        put(tx, one, "C", 5)

        assert [pressings(tx, name) for name in "ABC"] == [{}, {0: 5}, {-5: 5}]


def test_of_bales_that_are_taken_out_in_part_those_pressed_last_go(books: Books) -> None:
    one = pressed_on(books, -5, 0)
    with books.transaction() as tx:
        put(tx, one, "A", 8)
        lot_bales.take_out(tx, lots.named(tx, "A"), one.id, BALE, 2, at=NOW)
        assert pressings(tx, "A") == {-5: 5, 0: 1}

        lot_bales.take_out(tx, lots.named(tx, "A"), one.id, BALE, 4, at=NOW)
        assert pressings(tx, "A") == {-5: 2}

    with books.transaction() as tx, pytest.raises(LotRefused, match="has 2 bales"):
        lot_bales.take_out(tx, lots.named(tx, "A"), one.id, BALE, 3, at=NOW)


def test_bales_can_be_taken_out_where_the_store_was_counted_and_has_fewer(books: Books) -> None:
    one = pressed_on(books, 0)
    with books.transaction() as tx:
        put(tx, one, "A", 5)
        found = {"day": DAY, "at": NOW, "message_id": "m1", "bale_kg": BALE.kg}
        storeroom.count(tx, one.id, BALE.kind, BALE.kg * 3, BALE.kg * 5, **found)
        lot_bales.take_out(tx, lots.named(tx, "A"), one.id, BALE, 1, at=NOW)

        assert pressings(tx, "A") == {0: 4}


def test_bales_that_were_counted_and_never_pressed_go_into_no_lot(books: Books) -> None:
    one = pressed_on(books)
    with books.transaction() as tx:
        found = {"day": DAY, "at": NOW, "message_id": "m1", "bale_kg": BALE.kg}
        storeroom.count(tx, one.id, BALE.kind, BALE.kg * 4, Decimal(0), **found)

    with books.transaction() as tx, pytest.raises(LotRefused, match="No pressing of bales"):
        put(tx, one, "A", 2)
