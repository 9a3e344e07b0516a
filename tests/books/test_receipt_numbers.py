"""No two receipts of a farm have the same number, whoever numbers them: the farm, a cooperative, another, the farm again."""

from collections import Counter
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.books import Books, Transaction, cooperatives, entries, farms, messages, people
from bot.books.model import Farm
from bot.reckon.tracing import receipts
from parsers.reading import Record, Role, What
from tests.talk.cooperative import AMA, MUSA, START, Cooperative, opened


class Book:
    """A farm whose takes are numbered, and cooperatives that it can belong to."""

    def __init__(self, books: Books) -> None:
        self.books, self.n = books, 0
        with books.transaction() as tx:
            self.farm = self._farm(tx, "Old Ferry")
            self.neighbour = self._farm(tx, "Duskwater")
            self.houses = [
                cooperatives.add(
                    tx, name=name, timezone="UTC", currency="USD", language="en", closing_hour=19, at=START
                )
                for name in ("Three Hills", "Far Coast")
            ]
            self.me = people.known_as(tx, name="Musa", number=MUSA, language="en", at=START)

    def _farm(self, tx: Transaction, name: str) -> Farm:
        who = {"timezone": "UTC", "currency": "USD", "language": "en"}
        return farms.add_farm(tx, name=name, **who, blocks={}, containers={}, settings={}, at=START)

    def take(self, tx: Transaction, farm: Farm, house: int | None) -> int:
        """A take of a farm while it belongs to a cooperative, or to none; the number of its receipt."""
        self.n += 1
        at = START + timedelta(minutes=self.n)
        text = {"carrier": "practice", "number": MUSA, "text": "took", "at": at, "arrived": at}
        messages.receive(tx, message_id=f"m{self.n}", **text)
        record = Record(What.COLLECTED, START.date(), kg=Decimal(1))
        line = {"farm_id": farm.id, "message_id": f"m{self.n}", "by": self.me, "via": None, "entered_at": at}
        entry = entries.enter(tx, record=record, **line)
        if house is None:
            entries.number_own_receipt(tx, entry)
        else:
            entries.number_receipt(tx, entry, self.houses[house].id)
        return entries.receipt_number(tx, entry)

    def numbers(self, tx: Transaction) -> Counter[int]:
        return Counter(each.number for each in receipts(tx, self.farm))


def test_own_receipts_above_1000_and_then_a_cooperative(tmp_path: Path) -> None:
    book = Book(opened(tmp_path))
    with book.books.transaction() as tx:
        assert [book.take(tx, book.neighbour, 0) for _ in range(2)] == [1001, 1002]
        own = [book.take(tx, book.farm, None) for _ in range(905)]
        assert own[-1] == 1005  # as it always was: these are on paper

        assert [book.take(tx, book.farm, 0) for _ in range(3)] == [1006, 1007, 1008]
        assert book.take(tx, book.neighbour, 0) == 1009
        assert max(book.numbers(tx).values()) == 1
    book.books.close()


def test_a_cooperative_and_then_own_receipts_up_to_its_numbers(tmp_path: Path) -> None:
    book = Book(opened(tmp_path))
    with book.books.transaction() as tx:
        for _ in range(890):
            book.take(tx, book.farm, None)
        given_ = [book.take(tx, book.farm, 0) for _ in range(15)]
        after = [book.take(tx, book.farm, None) for _ in range(3)]

        assert given_[0] == 1001
        assert after == [1016, 1017, 1018]
        assert max(book.numbers(tx).values()) == 1
    book.books.close()


def test_after_a_short_time_in_a_cooperative_own_numbers_go_on_as_before(tmp_path: Path) -> None:
    book = Book(opened(tmp_path))
    with book.books.transaction() as tx:
        assert [book.take(tx, book.farm, house) for house in (None, 0, 0, None)] == [101, 1001, 1002, 104]
    book.books.close()


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from([None, 0, 1]), st.booleans(), st.integers(1, 400)), max_size=7))
def test_no_number_comes_twice_at_a_farm_or_at_a_cooperative(
    tmp_path_factory: pytest.TempPathFactory, lives: list[tuple[int | None, bool, int]]
) -> None:
    book = Book(opened(tmp_path_factory.mktemp("numbers")))
    with book.books.transaction() as tx:
        at_house: dict[int, list[int]] = {0: [], 1: []}
        for house, busy, takes in lives:
            for _ in range(takes):
                number = book.take(tx, book.farm, house)
                if house is not None:
                    at_house[house].append(number)
            if busy and house is not None:
                at_house[house] += [book.take(tx, book.neighbour, house) for _ in range(takes)]
        assert max(book.numbers(tx).values(), default=1) == 1
        for numbers in at_house.values():
            assert len(numbers) == len(set(numbers))
    book.books.close()


def test_an_old_own_receipt_can_be_disputed_though_a_neighbours_has_its_number(tmp_path: Path) -> None:
    hills = Cooperative(opened(tmp_path))
    with hills.books.transaction() as tx:
        new = farms.add_farm(
            tx, name="Old Ferry", timezone="Asia/Bangkok", currency="USD", language="en",
            blocks={}, containers={}, settings={}, at=START,
        )  # fmt: skip
        who = {"language": "en", "blocks": (), "at": START, "message_id": None, "farm_id": new.id}
        people.enrol(tx, name="Kofi", number="+447700900188", role=Role.OWNER, **who)
        people.enrol(tx, name="Musa", number=MUSA, role=Role.COLLECTOR, **who)
        book = Book.__new__(Book)
        book.books, book.n, book.houses, book.me = hills.books, 0, [hills.cooperative], hills.musa
        for _ in range(901):
            last = book.take(tx, new, None)
        cooperatives.add_farm(tx, hills.cooperative.id, new.id)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")  # the cooperative's 1001

    disputed = hills.text("1001 it was 2 kg", "+447700900188")

    assert last == 1001
    assert "It stands for now" in str(disputed.text)
    assert "Old Ferry" in str(disputed.text) or "1 kg" in str(disputed.text)
    hills.text("1001 it was 12.4 kg", AMA)
    assert hills.text("1001 12.4 kg").text.startswith("Changed: Receipt 1001. Ama Ridge")  # type: ignore[union-attr]
    hills.books.close()
