"""Farms: their blocks, containers, settings with history, and the points where collectors come."""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from bot.books.convert import folded, moment_out, rounded, scaled, unscaled
from bot.books.farm_settings import checked, settings_of
from bot.books.ids import new_id
from bot.books.model import Farm, FarmBlock, Point
from bot.books.store import Transaction
from parsers.reading import Block

#: A part of a name this long is enough to know it by.
_TELLING = 4


def add_farm(
    tx: Transaction,
    *,
    name: str,
    timezone: str,
    currency: str,
    language: str,
    blocks: Mapping[str, Block],
    containers: Mapping[str, Decimal],
    settings: Mapping[str, object],
    at: datetime,
    other_farms: Iterable[str] = (),
) -> Farm:
    """A new farm with its blocks, containers and settings."""
    farm_id = new_id()
    tx.run(
        "add_farm",
        id=farm_id,
        name=name,
        name_key=folded(name),
        timezone=timezone,
        currency=currency,
        language=language,
        created_at=moment_out(at),
    )
    for position, (block_name, block) in enumerate(blocks.items()):
        _add_block(tx, farm_id, position, block_name, block)
    for word, litres in containers.items():
        set_container(tx, farm_id, word, litres, at=at, message_id=None)
    for setting, value in settings.items():
        change_setting(tx, farm_id, setting, value, at=at, message_id=None)
    for other in other_farms:
        tx.run("add_other_farm", farm_id=farm_id, name=other, name_key=folded(other))
    return farm(tx, farm_id)


def _add_block(tx: Transaction, farm_id: str, position: int, name: str, block: Block) -> None:
    block_id = new_id()
    tx.run(
        "add_block",
        id=block_id,
        farm_id=farm_id,
        name=name,
        name_key=folded(name),
        position=position,
        trees=block.trees,
        usual_ml=scaled(rounded(block.usual_litres, 1000), 1000),
    )
    if block.hectares is not None:
        set_block_area(tx, block_id, block.hectares)


def set_block_area(tx: Transaction, block_id: str, hectares: Decimal) -> None:
    """What a block is stated to measure, hectares, kept to the square metre."""
    tx.run("set_block_area", id=block_id, square_metres=scaled(rounded(hectares, 10_000), 10_000))


def farm(tx: Transaction, farm_id: str) -> Farm:
    """The farm with its newest settings. Raises LookupError for an id that is not known."""
    rows = tx.run("farm", id=farm_id)
    if not rows:
        raise LookupError(f"there is no farm {farm_id}")
    return _farm(tx, rows[0])


def farm_named(tx: Transaction, name: str) -> Farm | None:
    """The farm of that name, whatever its case, marks and spaces."""
    rows = tx.run("farm_named", name_key=folded(name))
    return _farm(tx, rows[0]) if rows else None


def all_farms(tx: Transaction) -> list[Farm]:
    """All farms in the order in which they were added."""
    return [_farm(tx, row) for row in tx.run("all_farms")]


def names_known(tx: Transaction, farm: Farm) -> list[str]:
    """The farm's own name and those of farms without a book here that its collectors visit too."""
    return [farm.name, *(row["name"] for row in tx.run("other_farms", farm_id=farm.id))]


def blocks(tx: Transaction, farm_id: str) -> dict[str, FarmBlock]:
    """The blocks by name, in their order."""
    return dict(tx.remembered(("blocks", farm_id), lambda: _blocks(tx, farm_id)))


def _blocks(tx: Transaction, farm_id: str) -> Mapping[str, FarmBlock]:
    return {
        row["name"]: FarmBlock(
            row["id"], row["name"], row["trees"], unscaled(row["usual_ml"], 1000), row["square_metres"]
        )
        for row in tx.run("blocks", farm_id=farm_id)
    }


def containers(tx: Transaction, farm_id: str) -> dict[str, Decimal]:
    """What each container holds now, litres."""
    newest = {row["name_key"]: row for row in tx.run("containers", farm_id=farm_id)}
    return {row["name"]: unscaled(row["ml"], 1000) or Decimal(0) for row in newest.values()}


def set_container(
    tx: Transaction, farm_id: str, name: str, litres: Decimal, *, at: datetime, message_id: str | None
) -> None:
    """What a container holds from now on, litres; what it held before is kept."""
    tx.run(
        "add_container",
        id=new_id(),
        farm_id=farm_id,
        name=name,
        name_key=folded(name),
        ml=scaled(rounded(litres, 1000), 1000),
        set_at=moment_out(at),
        message_id=message_id,
    )


def change_setting(
    tx: Transaction, farm_id: str, name: str, value: object, *, at: datetime, message_id: str | None
) -> None:
    """A setting from now on; what it was before is kept. Raises UnknownSetting."""
    kept = checked(name, value)
    tx.run(
        "add_setting",
        id=new_id(),
        farm_id=farm_id,
        name=name,
        value=json.dumps(str(kept) if isinstance(kept, Decimal) else kept),
        set_at=moment_out(at),
        message_id=message_id,
    )


def settings_history(tx: Transaction, farm_id: str) -> list[dict[str, Any]]:
    """Every setting the farm ever had, oldest first: name, value, set_at, message_id."""
    return tx.run("settings_history", farm_id=farm_id)


def add_point(tx: Transaction, name: str, farm_ids: Sequence[str]) -> Point:
    """A collection point and the farms that bring to it; a point of that name gets the farms too."""
    point_id = tx.run("add_point", id=new_id(), name=name, name_key=folded(name))[0]["id"]
    for farm_id in farm_ids:
        tx.run("add_point_farm", point_id=point_id, farm_id=farm_id)
    return next(point for point in points(tx) if point.id == point_id)


def point_named(tx: Transaction, name: str) -> Point | None:
    """The point whose name is meant: the same when folded, or the only one with which it shares all words or a long part.

    None when no point fits, or several do.
    """
    known = points(tx)
    same = [point for point in known if folded(point.name) == folded(name)]
    found = same or [point for point in known if _alike(point.name, name)]
    return found[0] if len(found) == 1 else None


def _alike(one: str, other: str) -> bool:
    words, others = ({key for word in name.split() if (key := folded(word))} for name in (one, other))
    shorter, longer = sorted((folded(one), folded(other)), key=len)
    within = len(shorter) >= _TELLING and shorter in longer
    return within or (bool(words and others) and (words <= others or others <= words))


def points(tx: Transaction) -> list[Point]:
    """All collection points by name."""
    found: dict[str, Point] = {}
    for row in tx.run("points"):
        before = found.get(row["id"], Point(row["id"], row["name"], ()))
        more = () if row["farm_id"] is None else (row["farm_id"],)
        found[row["id"]] = Point(row["id"], row["name"], before.farm_ids + more)
    return list(found.values())


def _farm(tx: Transaction, row: Mapping[str, Any]) -> Farm:
    newest = {each["name"]: json.loads(each["value"]) for each in tx.run("settings_history", farm_id=row["id"])}
    return Farm(row["id"], row["name"], row["timezone"], row["currency"], row["language"], settings_of(newest))
