"""An invented farm with a few days whose figures can be added up by hand, and a second farm beside it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.app import create_app
from bot.books import Books, Transaction, entries, farms, messages, open_books, people
from bot.books.model import Entry, Farm, Person
from bot.papers import shelf
from bot.papers.shelf import File, Wish
from bot.settings import Settings
from parsers.reading import ALL_BLOCKS, Block, Reason, Record, Role, What

#: A Thursday, 17:30 at the farms.
NOW = datetime(2026, 3, 12, 10, 30, tzinfo=UTC)
START = NOW - timedelta(days=90)
MONDAY = date(2026, 3, 9)
FORMULA = "=HYPERLINK(1)"


@dataclass(frozen=True)
class House:
    """Books with two farms that share a collector, and everybody of the first."""

    books: Books
    settings: Settings
    farm: Farm
    other: Farm
    tapper: Person
    owner: Person
    collector: Person

    def enter(
        self, record: Record, *, dry_kg: float | None = None, replaces: str | None = None, farm: Farm | None = None
    ) -> Entry:
        with self.books.transaction() as tx:
            return entries.enter(
                tx,
                farm_id=(farm or self.farm).id,
                message_id=_message(tx, f"{(farm or self.farm).name}: {record.what}"),
                by=self.collector if record.what is What.COLLECTED else self.tapper,
                via=None,
                record=record,
                entered_at=NOW,
                replaces=replaces,
                computed=None if dry_kg is None else {"dry_kg": dry_kg},
            )

    def remove(self, entry: Entry) -> None:
        with self.books.transaction() as tx:
            entries.remove(tx, entry.id, message_id=_message(tx, "sorry, not that"), at=NOW + timedelta(hours=1))

    def set(self, **settings: object) -> None:
        with self.books.transaction() as tx:
            for name, value in settings.items():
                farms.change_setting(tx, self.farm.id, name, value, at=NOW, message_id=None)

    def paper(self, wish: Wish) -> File:
        with self.books.transaction() as tx:
            write = shelf.gather(tx, farms.farm(tx, self.farm.id), wish, NOW)
        return write()

    def client(self):
        return create_app(self.settings, self.books, lambda: NOW).test_client()


def latex(day: date, litres: str, block: str = "3", **more: object) -> Record:
    return Record(What.LATEX, day, block, litres=Decimal(litres), **more)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    books = open_books(tmp_path / "books.sqlite")
    settings = Settings(tmp_path / "books.sqlite", link_key="a key for the test")
    with books.transaction() as tx:
        farm, other = _farm(tx, "Heron Hill"), _farm(tx, "Far Meadow")
        tapper = _person(tx, farm, FORMULA, "+447700900501", Role.TAPPER)
        owner = _person(tx, farm, "Ines", "+447700900502", Role.OWNER)
        _person(tx, other, "Bruno", "+447700900503", Role.OWNER)
        collector = _person(tx, farm, "Mara", "+447700900504", Role.COLLECTOR)
        _person(tx, other, "Mara", "+447700900504", Role.COLLECTOR)
    yield House(books, settings, farm, other, tapper, owner, collector)
    books.close()


@pytest.fixture
def filled(house: House) -> House:
    """February: 20 L. March: 30.5 L in two days of block 3, 12.25 L of block 5, a rain day of both blocks, two takes."""
    house.enter(latex(date(2026, 2, 27), "20"), dry_kg=6.44)
    wrong = house.enter(latex(MONDAY, "180"), dry_kg=57.9)
    house.enter(latex(MONDAY, "18", rain=True), dry_kg=5.79, replaces=wrong.id)
    house.enter(latex(date(2026, 3, 10), "12.5"), dry_kg=4.02)
    house.enter(latex(date(2026, 3, 10), "12.25", "5"), dry_kg=3.96)
    house.remove(house.enter(latex(date(2026, 3, 10), "99", "5"), dry_kg=31.8))
    house.enter(Record(What.NO_TAPPING, date(2026, 3, 11), ALL_BLOCKS, reason=Reason.RAIN))
    house.enter(Record(What.SHEETS_ROLLED, MONDAY, count=12))
    house.enter(Record(What.SHEETS_DRY, date(2026, 3, 12), count=11, kg=Decimal("5.4")))
    house.enter(Record(What.LUMP, date(2026, 3, 10), "3", kg=Decimal("1.5")))
    house.enter(_take(date(2026, 3, 11), 20, "9.65", "RSS3", "1.55"))
    house.enter(_take(date(2026, 3, 12), 4, "2.05", None, None))
    house.enter(latex(MONDAY, "777"), dry_kg=250.0, farm=house.other)
    return house


def _take(day: date, sheets: int, kg: str, grade: str | None, price: str | None) -> Record:
    return Record(
        What.COLLECTED,
        day,
        sheets=sheets,
        kg=Decimal(kg),
        grade=grade,
        price=None if price is None else Decimal(price),
    )


def _message(tx: Transaction, text: str) -> str:
    name = f"m{len(messages.listing(tx, START, NOW + timedelta(days=1)))}"
    messages.receive(tx, message_id=name, carrier="practice", number="+447700900501", text=text, at=NOW, arrived=NOW)
    return name


def _farm(tx: Transaction, name: str) -> Farm:
    return farms.add_farm(
        tx,
        name=name,
        timezone="Asia/Bangkok",
        currency="USD",
        language="en",
        blocks={"3": Block(280, Decimal(18)), "5": Block(300, Decimal(20))},
        containers={"bucket": Decimal(12)},
        settings={},
        at=START,
    )


def _person(tx: Transaction, farm: Farm, name: str, number: str, role: Role) -> Person:
    return people.enrol(
        tx,
        name=name,
        number=number,
        language="en",
        farm_id=farm.id,
        role=role,
        blocks=("3", "5") if role is Role.TAPPER else (),
        at=START,
        message_id=None,
    ).person
