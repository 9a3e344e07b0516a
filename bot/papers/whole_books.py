"""A farm's whole books as one SQLite file that general tools open: readable names, one row an entry, this farm alone."""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from bot.books import Transaction, entries, farms, messages, people, plots, wages
from bot.books.bark import measured
from bot.books.model import Entry, Farm, Person
from bot.books.wages import MoneyLine, Settled, Terms
from bot.papers import growers_own, pay
from bot.papers.day_book import successors
from bot.reckon import takes
from bot.reckon.growers_own import accounts
from bot.rubber.geojson import written
from parsers.reading import What

#: What stands, by itself: most questions are about it.
STANDING = "select * from entries where state = 'stands'"


Rows = tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class WholeBooks:
    """The rows of each table."""

    farm: Rows
    settings: Rows
    blocks: Rows
    plots: Rows
    containers: Rows
    people: Rows
    entries: Rows
    pay_terms: Rows
    money: Rows
    settlements: Rows
    bark: Rows
    payouts: Rows
    payout_lines: Rows
    due: Rows


def gather(tx: Transaction, farm: Farm, now: datetime) -> WholeBooks:
    """All rows of a farm and of no other; `now` is when they are copied.

    The text that an entry came in is left out where the same text brought entries to another farm.
    """
    lines, names = entries.all_entries(tx, farm.id), pay.names_by_id(tx, farm)
    sold = accounts(tx, farm, growers_own.ALL)
    return WholeBooks(
        farm=(_farm(farm, now.astimezone(ZoneInfo(farm.timezone))),),
        settings=tuple(_settings(tx, farm)),
        blocks=tuple(_blocks(tx, farm)),
        plots=tuple(_plots(tx, farm)),
        containers=tuple(_containers(tx, farm)),
        people=tuple(_people(tx, farm, lines)),
        entries=tuple(_entries(tx, farm, lines)),
        pay_terms=tuple(_terms(each, names) for each in wages.all_terms(tx, farm.id)),
        money=tuple(_money(each, names) for each in wages.money(tx, farm.id)),
        settlements=tuple(_settled(each, names) for each in wages.settlements(tx, farm.id)),
        bark=tuple(_bark(tx, farm, now.astimezone(ZoneInfo(farm.timezone)).date())),
        payouts=growers_own.rows_of_payouts(farm, sold),
        payout_lines=growers_own.rows_of_lines(sold),
        due=growers_own.rows_of_due(sold),
    )


def _bark(tx: Transaction, farm: Farm, last: date) -> Iterator[dict[str, Any]]:
    for block, measures in measured(tx, farm.id, last).items():
        for each in measures:
            yield {"block": block, "day": each.day.isoformat(), "cm_left": each.cm, "panel": each.panel}


def sqlite_of(books: WholeBooks) -> bytes:
    """The tables farm, settings, blocks, plots, containers, people, entries, pay_terms, money, settlements, bark, and payouts,
    payout_lines and due of its cooperative, as one file, and the view day_book of what stands.

    Litres, kg, percent and prices are plain numbers; moments are ISO 8601 on the farm's clock with its distance from UTC.
    """
    connection = sqlite3.connect(":memory:")
    database = Database(connection, execute_plugins=False)
    try:
        for name, columns in _TABLES.items():
            database.table(name).create(columns, pk=_KEYS.get(name)).insert_all(getattr(books, name))
        database.table("entries").create_index(["day", "what"])
        database.create_view("day_book", STANDING)
        connection.commit()
        return connection.serialize()
    finally:
        database.close()


_BLOCK: dict[str, type] = {"name": str, "trees": int, "usual_litres": float, "hectares": float}
_PLOT: dict[str, type] = {
    "block": str,
    "name": str,
    "hectares": float,
    "latitude": str,
    "longitude": str,
    "geojson": str,
}
_PERSON: dict[str, type] = {"name": str, "number": str, "role": str, "blocks": str, "language": str}
_ENTRY: dict[str, type] = {
    "id": str,
    "day": str,
    "what": str,
    "block": str,
    "litres": float,
    "kg": float,
    "drc_percent": float,
    "dry_kg_expected": float,
    "pieces": int,
    "grade": str,
    "price_per_kg": float,
    "amount": float,
    "farm_or_place": str,
    "reason": str,
    "rain": int,
    "late": int,
    "again": int,
    "person": str,
    "phone_used": str,
    "entered_at": str,
    "state": str,
    "replaced_by": str,
    "text": str,
}


_TABLES: Mapping[str, dict[str, type]] = {
    "farm": {"name": str, "timezone": str, "currency": str, "language": str, "copied_at": str},
    "settings": {"name": str, "value": str, "set_at": str},
    "blocks": _BLOCK,
    "plots": _PLOT,
    "containers": {"name": str, "litres": float},
    "people": _PERSON,
    "entries": _ENTRY,
    "pay_terms": {"person": str, "since": str, "terms": str},
    "money": {"day": str, "person": str, "kind": str, "amount": float, "note": str},
    "bark": {"block": str, "day": str, "cm_left": float, "panel": str},
    "settlements": {
        "person": str,
        "first_day": str,
        "last_day": str,
        "how": str,
        "earned": float,
        "recovered": float,
        "paid": float,
        "owed": float,
        "confirmed_at": str,
    },
    **growers_own.TABLES,
}
_KEYS = {"farm": "name", "blocks": "name", "plots": "name", "containers": "name", "entries": "id"}


def _farm(farm: Farm, now: datetime) -> dict[str, Any]:
    return {
        "name": farm.name,
        "timezone": farm.timezone,
        "currency": farm.currency,
        "language": farm.language,
        "copied_at": now.isoformat(timespec="minutes"),
    }


def _settings(tx: Transaction, farm: Farm) -> Iterator[dict[str, Any]]:
    for row in farms.settings_history(tx, farm.id):
        yield {"name": row["name"], "value": row["value"], "set_at": row["set_at"]}


def _blocks(tx: Transaction, farm: Farm) -> Iterator[dict[str, Any]]:
    for block in farms.blocks(tx, farm.id).values():
        area = None if block.square_metres is None else block.square_metres / 10_000
        yield {
            "name": block.name,
            "trees": block.trees,
            "usual_litres": _number(block.usual_litres),
            "hectares": area,
        }


def _plots(tx: Transaction, farm: Farm) -> Iterator[dict[str, Any]]:
    """The plots that count; coordinates as they were written, those of a polygon's first corner beside its border."""
    for plot in plots.of_farm(tx, farm.id):
        yield {
            "block": plot.block,
            "name": plot.name,
            "hectares": plot.square_metres / 10_000,
            "latitude": plot.shape.anywhere.latitude,
            "longitude": plot.shape.anywhere.longitude,
            "geojson": written(plot.shape),
        }


def _containers(tx: Transaction, farm: Farm) -> Iterator[dict[str, Any]]:
    for name, litres in farms.containers(tx, farm.id).items():
        yield {"name": name, "litres": float(litres)}


def _people(tx: Transaction, farm: Farm, lines: list[Entry]) -> Iterator[dict[str, Any]]:
    """Everybody of the farm by role, then those who left and whose entries stay."""
    members = people.members(tx, farm.id)
    for each in members:
        yield _person(each.person, each.role.value, " ".join(each.blocks))
    known = {each.person.id for each in members}
    for person in dict.fromkeys(entry.by for entry in lines):
        if person.id not in known:
            known.add(person.id)
            yield _person(person, "left", "")


def _person(person: Person, role: str, blocks: str) -> dict[str, Any]:
    return {
        "name": person.name,
        "number": person.number,
        "role": role,
        "blocks": blocks,
        "language": person.language,
    }


def _entries(tx: Transaction, farm: Farm, lines: list[Entry]) -> Iterator[dict[str, Any]]:
    after = successors(tx, farm, lines, date.min, date.max)
    texts = messages.texts_of_farm_alone(tx, farm.id)
    for entry in lines:
        if not entry.removed:
            yield _entry(farm, entry, after.get(entry.id), texts)


def _entry(farm: Farm, entry: Entry, after: Entry | None, texts: Mapping[str, str]) -> dict[str, Any]:
    record = entry.record
    return {
        "id": entry.id,
        "day": None if record.day is None else record.day.isoformat(),
        "what": record.what.value,
        "block": record.block,
        "litres": _number(record.litres),
        "kg": _number(record.kg),
        "drc_percent": _number(record.drc),
        "dry_kg_expected": (entry.computed or {}).get("dry_kg") if record.what is What.LATEX else None,
        "pieces": record.sheets if record.sheets is not None else record.count,
        "grade": record.grade,
        "price_per_kg": _number(record.price),
        "amount": _number(takes.amount(farm, entry)) if record.what is What.COLLECTED else None,
        "farm_or_place": record.farm or record.place,
        "reason": None if record.reason is None else record.reason.value,
        "rain": int(record.rain),
        "late": int(record.late),
        "again": int(record.again),
        "person": entry.by.name,
        "phone_used": entry.via,
        "entered_at": entry.entered_at.astimezone(ZoneInfo(farm.timezone)).isoformat(timespec="seconds"),
        "state": _state(after),
        "replaced_by": None if after is None or after.removed else after.id,
        "text": texts.get(entry.message_id),
    }


def _terms(terms: Terms, names: Mapping[str, str]) -> dict[str, Any]:
    """Terms of pay; the person is empty where they are those of all tappers."""
    person = None if terms.person_id is None else names.get(terms.person_id, terms.person_id)
    return {"person": person, "since": terms.since.isoformat(), "terms": json.dumps(dict(terms.terms))}


def _money(line: MoneyLine, names: Mapping[str, str]) -> dict[str, Any]:
    return {
        "day": line.day.isoformat(),
        "person": names.get(line.person_id, line.person_id),
        "kind": line.kind,
        "amount": float(line.amount),
        "note": line.note,
    }


def _settled(settled: Settled, names: Mapping[str, str]) -> dict[str, Any]:
    return {
        "person": names.get(settled.person_id, settled.person_id),
        "first_day": settled.first.isoformat(),
        "last_day": settled.last.isoformat(),
        "how": pay.how_as_kept(settled),
        "earned": float(settled.earned),
        "recovered": float(settled.recovered),
        "paid": float(settled.paid),
        "owed": float(settled.owed),
        "confirmed_at": settled.confirmed_at.isoformat(timespec="seconds"),
    }


def _state(after: Entry | None) -> str:
    if after is None:
        return "stands"
    return "taken out" if after.removed else "corrected"


def _number(value: Any) -> float | None:
    return None if value is None else float(value)
