"""Fill empty books with the demonstration: enrol the invented cooperative and play its texts."""

import random
import tomllib
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from importlib import resources
from typing import Any

from bot.books import Books, Transaction, cooperatives, farms, people, places
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
    books.run_transaction(lambda tx: _join(tx, described["cooperative"], now))
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


def _join(tx: Transaction, described: Mapping[str, Any], now: datetime) -> None:
    """The cooperative of all farms: its manager, prices, places, and each collector's round on every weekday."""
    plain = {name: described[name] for name in ("name", "timezone", "currency", "language", "closing_hour")}
    one = cooperatives.add(tx, **plain, at=now)
    for farm in farms.all_farms(tx):
        cooperatives.add_farm(tx, one.id, farm.id)
    manager = people.known_as(tx, **described["manager"], language="en", at=now)
    cooperatives.add_manager(tx, one.id, manager.id, now)
    for kind, price in described["prices"].items():
        day = now.date() - timedelta(days=DAYS)
        cooperatives.set_price(tx, one.id, kind, Decimal(price), day=day, at=now, message_id=None)
    for number, point in enumerate(farms.points(tx), 1):
        opens, closes = described["hours"].get(point.name, (None, None))
        places.set_place(tx, one.id, name=point.name, number=number, opens=opens, closes=closes)
    _rounds(tx, places.of_cooperative(tx, one.id))


def _rounds(tx: Transaction, known: Sequence[places.Place]) -> None:
    """Every day each collector goes to the places that his farms bring to."""
    own: dict[str, list[str]] = {}
    for each in people.everybody(tx):
        if each.role is Role.COLLECTOR:
            stops = own.setdefault(each.person.id, [])
            stops += [place.id for place in known if each.farm_id in place.farm_ids and place.id not in stops]
    for person_id, stops in own.items():
        for weekday in range(7):
            places.set_round(tx, person_id, weekday, stops)
