"""Fill empty books with the demonstration: enrol the invented cooperative and play its texts."""

import random
import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from importlib import resources
from typing import Any

from bot.books import Books, Transaction, farms, people
from bot.demonstration.season import Text, history
from bot.jobs import run_due
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from parsers.reading import Role, block_from_json

#: Three texts that show the main job on the demonstration farm: from whom, and what.
DEMONSTRATION_TEXTS = (
    ("+447700900102", "block 1 18 litres rain"),
    ("+447700900102", "sorry 17 not 18"),
    ("+447700900101", "week"),
)

DAYS = 60
SEED = 20260301


class BooksNotEmpty(ValueError):
    """The books hold farms already: a demonstration never goes over them."""


def fill(books: Books, now: datetime, seed: int = SEED) -> int:
    """Enrol the demonstration's farms and people and play sixty days up to yesterday. Returns the number of texts.

    Raises BooksNotEmpty when there is a farm in the books.
    """
    described = tomllib.loads(resources.files(__package__).joinpath("farms.toml").read_text(encoding="utf-8"))
    texts = sorted(_texts(described, now, seed), key=lambda each: each.at)
    start = texts[0].at
    books.run_transaction(lambda tx: _enrol(tx, described, start))
    summary_day = None
    for n, each in enumerate(texts):
        if each.at.date() != summary_day:
            summary_day = each.at.date()
            run_due(books, each.at, None)
        answer(books, Incoming(f"demonstration-{n}", each.sender, each.text, each.at, each.at, "practice"), each.at)
    return len(texts)


def _texts(described: Mapping[str, Any], now: datetime, seed: int) -> list[Text]:
    dice = random.Random(seed)
    last = now.date() - timedelta(days=1)
    first = last - timedelta(days=DAYS - 1)
    return [text for farm in described["farms"] for text in history(farm, first, last, dice)]


def _enrol(tx: Transaction, described: Mapping[str, Any], at: datetime) -> None:
    if farms.all_farms(tx):
        raise BooksNotEmpty(
            "The books hold a farm already; the demonstration needs empty books. Set TAPPING_LOG_BOOKS."
        )
    ids = {}
    for farm in described["farms"]:
        added = farms.add_farm(
            tx,
            name=farm["name"],
            timezone=farm["timezone"],
            currency=farm["currency"],
            language=farm["language"],
            blocks={name: block_from_json(block) for name, block in farm["blocks"].items()},
            containers={name: Decimal(str(litres)) for name, litres in farm["containers"].items()},
            settings={},
            at=at,
        )
        ids[farm["name"]] = added.id
        for person in farm["people"]:
            _person(tx, added.id, person, at)
    for point in described["points"]:
        farms.add_point(tx, point["name"], [ids[name] for name in point["farms"]])


def _person(tx: Transaction, farm_id: str, person: Mapping[str, Any], at: datetime) -> None:
    people.enrol(
        tx,
        name=person["name"],
        number=person["number"],
        language=person["language"],
        farm_id=farm_id,
        role=Role(person["role"]),
        blocks=tuple(person.get("blocks", ())),
        at=at,
        message_id=None,
    )
