"""Only settlements about whose days something was written since are worked out again: the pay is that of working out all."""

import random
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import Books, entries, open_books, wages
from bot.books.model import Farm, Person
from bot.reckon import wages as reckoning
from bot.reckon.wages import Due, _Book, _tappers, due
from parsers.reading import Block, Record, What
from tests.books import made

FIRST = date(2026, 1, 5)
WEEK = timedelta(days=7)


class AllAgain(_Book):
    """Every settlement that was ever made is worked out again."""

    def _is_changed(self, settled: wages.Settled, since: str, changes: Sequence[entries.Change]) -> bool:
        return True


class Estate:
    """A farm that pays by the week, whose lines are corrected, taken out and added late, by chance."""

    def __init__(self, books: Books, seed: int, slips: float = 0.0) -> None:
        self.books, self.dice, self.n, self.slips = books, random.Random(seed), 0, slips
        with books.transaction() as tx:
            blocks = {name: Block(300, Decimal(16)) for name in "12"}
            self.farm = made.a_farm(tx, blocks=blocks, settings={"pay_period": "week"})
            self.people = [
                made.a_person(tx, self.farm.id, f"+44770090030{n}", name) for n, name in enumerate(("Ama", "Kofi"))
            ]

    def enter(self, day: date, record: Record, by: Person, **changes: object) -> None:
        self.n += 1
        with self.books.transaction() as tx:
            made.a_text(tx, f"t{self.n}", by.number)
            at = datetime.combine(day, time(9), UTC)
            computed = {"dry_kg": float(record.litres) * 0.33} if record.litres else None
            made.a_line(
                tx, self.farm.id, by.id, f"t{self.n}", record=record, entered_at=at, computed=computed, **changes
            )

    def terms(self, since: date, person: Person | None, **terms: str) -> None:
        at = datetime.combine(since, time(9), UTC)
        with self.books.transaction() as tx:
            wages.set_terms(
                tx, self.farm.id, None if person is None else person.id, since, terms, at=at, message_id=None
            )

    def week(self, monday: date) -> None:
        """Work, sales, prices, changes of old days, and the settlement of the week."""
        for n in range(7):
            day = monday + timedelta(days=n)
            late = timedelta(days=self.dice.choice((1, 9, 20)) if self.dice.random() < self.slips else 0)
            for block, person in zip("12", self.people, strict=True):
                litres = Decimal(self.dice.randrange(20, 40)) / 2
                self.enter(day, Record(What.LATEX, max(day - late, FIRST), block, litres), person)
            if self.dice.random() < 0.3:
                kg = Decimal(self.dice.randrange(5, 30))
                price = self.dice.choice((None, Decimal("1.7")))
                self.enter(
                    day, Record(What.COLLECTED, max(day - late, FIRST), kg=kg, sheets=9, price=price), self.people[0]
                )
            if self.dice.random() < 0.15:
                price = Decimal(self.dice.randrange(120, 190)) / 100
                self.enter(day, Record(What.PRICE, max(day - late, FIRST), price=price), self.people[0])
            if self.dice.random() < self.slips:
                self._change(day)
        if self.dice.random() < self.slips:
            since = max(monday - timedelta(days=self.dice.randrange(20)), FIRST)
            self.terms(since, self.dice.choice((None, *self.people)), per_kilo=str(self.dice.randrange(3, 9) / 10))

    def _change(self, day: date) -> None:
        with self.books.transaction() as tx:
            standing = entries.standing(tx, self.farm.id)
        old = self.dice.choice(standing)
        how = self.dice.randrange(3)
        if how == 0:
            self.enter(day, old.record, old.by, replaces=old.id, removed=True)
        elif how == 1 and old.record.litres:
            self.enter(day, old.record.with_(litres=old.record.litres + 2), old.by, replaces=old.id)
        elif how == 2 and old.record.day:
            moved = max(old.record.day - timedelta(days=self.dice.randrange(9)), FIRST)
            self.enter(day, old.record.with_(day=moved), old.by, replaces=old.id)

    def settle(self, first: date, last: date, found: list[Due]) -> None:
        at = datetime.combine(last + timedelta(days=1), time(9), UTC)
        with self.books.transaction() as tx:
            for each in found:
                paid = each.settlement
                wages.settle(
                    tx,
                    self.farm.id,
                    each.person.id,
                    first=first,
                    last=last,
                    slip=each.slip,
                    earned=paid.earned,
                    recovered=paid.recovered,
                    paid=paid.paid,
                    owed=paid.still_owed,
                    at=at,
                    message_id=None,
                )


def worked_out(books: Books, farm: Farm, first: date, last: date) -> tuple[list[Due], list[Due]]:
    """What is due by the product, and by working out every week again."""
    with books.transaction() as tx:
        tappers = _tappers(tx, farm)
        book = AllAgain(tx, farm, tappers, first, last)
        return due(tx, farm, first, last), [
            each for person in tappers if (each := book.due(person, first, last)) is not None
        ]


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Books]:
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        yield opened


@pytest.fixture(autouse=True)
def one_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """All is written by one machine, within moments: nothing counts as written since only because it was just before."""
    monkeypatch.setattr(reckoning, "CLOCKS_DIFFER", timedelta(0))


@pytest.mark.parametrize("seed", range(8))
def test_pay_is_that_of_working_out_every_settlement_again(books: Books, seed: int) -> None:
    estate = Estate(books, seed, slips=0.03 if seed % 2 else 0.2)
    estate.terms(FIRST, None, per_kilo="0.4", share="30%")
    adjusted = 0
    for n in range(9):
        first = FIRST + n * WEEK
        last = first + timedelta(days=6)
        estate.week(first)

        found, again = worked_out(books, estate.farm, first, last)

        assert [(each.person, each.earned, each.settlement) for each in found] == [
            (each.person, each.earned, each.settlement) for each in again
        ]
        adjusted += sum(line.label == "adjustment" for each in found for line in each.earned.lines)
        estate.settle(first, last, found)
    assert adjusted


def test_the_lines_read_for_pay_do_not_grow_with_what_was_settled(books: Books) -> None:
    estate = Estate(books, seed=9)
    estate.terms(FIRST, None, per_kilo="0.4")
    for n in range(8):
        first = FIRST + n * WEEK
        for day in range(7):
            for block, person in zip("12", estate.people, strict=True):
                on = first + timedelta(days=day)
                estate.enter(on, Record(What.LATEX, on, block, Decimal(15)), person)
        read: list[object] = []
        books.tracer = lambda name, values: read.append(values["first_day"]) if name == "standing" else None  # noqa: B023
        with books.transaction() as tx:
            found = due(tx, estate.farm, first, first + timedelta(days=6))
        books.tracer = None
        assert read == [first.isoformat()]
        estate.settle(first, first + timedelta(days=6), found)

    estate.enter(first, Record(What.LATEX, FIRST, "1", Decimal(9)), estate.people[0])
    books.tracer = lambda name, values: read.append(values["first_day"]) if name == "standing" else None
    with books.transaction() as tx:
        due(tx, estate.farm, first + WEEK, first + WEEK + timedelta(days=6))
    assert read[1:] == [FIRST.isoformat(), (first + WEEK).isoformat()]


def test_a_late_price_of_an_earlier_week_changes_a_sale_that_was_settled(books: Books) -> None:
    estate = Estate(books, seed=1)
    estate.terms(FIRST, None, share="50%")
    ama, sale = estate.people[0], FIRST + WEEK
    estate.enter(FIRST, Record(What.PRICE, FIRST, price=Decimal("1.50")), ama)
    estate.enter(sale, Record(What.LATEX, sale, "1", Decimal(18)), ama)
    estate.enter(sale, Record(What.COLLECTED, sale, kg=Decimal(10), sheets=20), ama)
    last = sale + timedelta(days=6)
    estate.settle(sale, last, worked_out(books, estate.farm, sale, last)[0])

    estate.enter(last, Record(What.PRICE, FIRST + timedelta(days=3), price=Decimal("1.70")), ama)
    found, again = worked_out(books, estate.farm, sale + WEEK, last + WEEK)

    assert found == again
    (line,) = found[0].earned.lines
    assert (line.label, line.amount) == ("adjustment", Decimal("1.00"))  # 10 kg x (1.70 - 1.50), half of it his
