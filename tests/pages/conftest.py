"""An invented farm, with a second one beside it whose owner must see nothing of the first."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from bot.app import create_app
from bot.books import Books, Transaction, farms, open_books, people
from bot.books.model import Farm, Person
from bot.pages import owner
from bot.settings import Settings
from parsers.reading import Block, Role

#: A Thursday, 17:30 at the farms.
NOW = datetime(2026, 3, 12, 10, 30, tzinfo=UTC)
START = NOW - timedelta(days=60)
SIZE_LIMIT = 60_000
TAPPER, OWNER, OTHER_OWNER = "+447700900401", "+447700900402", "+447700900403"


@dataclass(frozen=True)
class House:
    """Books with two farms, the application over them, and its settings."""

    books: Books
    settings: Settings
    app: Flask
    farm: Farm
    other: Farm
    tapper: Person
    owner: Person
    other_owner: Person

    @property
    def client(self) -> FlaskClient:
        return self.app.test_client()

    @property
    def link(self) -> str:
        return owner.link(self.settings, self.farm.id, self.owner.id)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    books = open_books(tmp_path / "books.sqlite")
    settings = Settings(tmp_path / "books.sqlite", demonstration=True, link_key="a key for the test")
    with books.transaction() as tx:
        farm, other = _farm(tx, "Heron Hill"), _farm(tx, "Far Meadow")
        tapper = _person(tx, farm, "<script>alert(1)</script>", TAPPER, Role.TAPPER)
        owners = _person(tx, farm, "Ines", OWNER, Role.OWNER), _person(tx, other, "Bruno", OTHER_OWNER, Role.OWNER)
    yield House(books, settings, create_app(settings, books, lambda: NOW), farm, other, tapper, *owners)
    books.close()


def _farm(tx: Transaction, name: str) -> Farm:
    return farms.add_farm(
        tx,
        name=name,
        timezone="Asia/Bangkok",
        currency="USD",
        language="en",
        blocks={"3": Block(280, Decimal(18)), "5": Block(300, Decimal(20))},
        containers={},
        settings={},
        at=START,
    )


def _person(tx: Transaction, farm: Farm, name: str, number: str, role: Role) -> Person:
    blocks = ("3", "5") if role is Role.TAPPER else ()
    return people.enrol(
        tx,
        name=name,
        number=number,
        language="en",
        farm_id=farm.id,
        role=role,
        blocks=blocks,
        at=START,
        message_id=None,
    ).person
