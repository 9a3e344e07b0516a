"""Lots for sale: what they are made of. A gram of a receipt is in one lot at most; what is closed changes no more."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from bot.books.convert import folded, moment_in, moment_or_none, moment_out
from bot.books.ids import new_id
from bot.books.store import Transaction


class LotRefused(ValueError):
    """Something cannot be done to a lot; the message says why and what would work."""


@dataclass(frozen=True)
class Lot:
    """A lot. `net_grams` is what its bales weighed and `statement` what was said of it, once it is closed."""

    id: str
    name: str
    product: str
    buyer: str
    opened_at: datetime
    closed_at: datetime | None
    net_grams: int | None
    statement: Mapping[str, Any] | None


@dataclass(frozen=True)
class LotTake:
    """So many grams of a receipt in a lot. `take_id` is the receipt's first line, which corrections keep."""

    id: str
    lot_id: str
    farm_id: str
    take_id: str
    grams: int


@dataclass(frozen=True)
class LotUnknown:
    """Grams of rubber of unknown origin in a lot, and what is known of it."""

    grams: int
    note: str


def new(tx: Transaction, name: str, product: str, buyer: str, *, at: datetime) -> Lot:
    """A new, open lot. Raises LotRefused where there is one of that name."""
    made = tx.run(
        "add_lot",
        id=new_id(),
        name=name,
        name_key=folded(name),
        product=product,
        buyer=buyer,
        opened_at=moment_out(at),
    )
    if not made:
        raise LotRefused(f"There is a lot {name} already: give this one another name.")
    return named(tx, name)


def named(tx: Transaction, name: str) -> Lot:
    """The lot of that name, whatever its case, marks and spaces. Raises LotRefused."""
    rows = tx.run("lot_named", name_key=folded(name))
    if not rows:
        there = ", ".join(each.name for each in every(tx)) or "none yet; make one with `tapping-log lot new`"
        raise LotRefused(f"There is no lot {name}. There are: {there}")
    return _lot(rows[0])


def every(tx: Transaction) -> list[Lot]:
    """All lots, oldest first."""
    return [_lot(row) for row in tx.run("all_lots")]


def _lot(row: Mapping[str, Any]) -> Lot:
    return Lot(
        row["id"],
        row["name"],
        row["product"],
        row["buyer"],
        moment_in(row["opened_at"]),
        moment_or_none(row["closed_at"]),
        row["net_grams"],
        None if row["statement"] is None else json.loads(row["statement"]),
    )


def hold(tx: Transaction, lot: Lot) -> None:
    """Hold an open lot until the transaction ends. Raises LotRefused for one that is closed."""
    if not tx.run("hold_lot", id=lot.id):
        raise LotRefused(f"The lot {lot.name} is closed and changes no more: put this into another lot.")


def add_take(tx: Transaction, lot: Lot, farm_id: str, take_id: str, grams: int, of: int, *, at: datetime) -> None:
    """Put grams of a receipt that holds `of` grams into a lot. Raises LotRefused where that is more than is left of it."""
    hold(tx, lot)
    if grams > of or not tx.run("take_up", take_id=take_id, grams=grams, most=of):
        raise LotRefused(f"Only {of - taken_up(tx, take_id)} g of this receipt are in no lot yet, and not {grams} g.")
    tx.run(
        "add_lot_take",
        id=new_id(),
        lot_id=lot.id,
        farm_id=farm_id,
        take_id=take_id,
        grams=grams,
        added_at=moment_out(at),
    )


def taken_up(tx: Transaction, take_id: str) -> int:
    """How many grams of a receipt are in lots."""
    rows = tx.run("taken_up", take_id=take_id)
    return int(rows[0]["grams"]) if rows else 0


def take_out(tx: Transaction, lot: Lot, take: LotTake, *, at: datetime) -> None:
    """Take a part out of an open lot again. Raises LotRefused."""
    hold(tx, lot)
    if tx.run("take_out_of_lot", id=take.id, at=moment_out(at)):
        tx.run("give_back", take_id=take.take_id, grams=take.grams)


def add_unknown(tx: Transaction, lot: Lot, grams: int, note: str, *, at: datetime) -> None:
    """Put rubber of unknown origin into a lot, which marks it. Raises LotRefused."""
    hold(tx, lot)
    tx.run("add_lot_unknown", id=new_id(), lot_id=lot.id, grams=grams, note=note, added_at=moment_out(at))


def takes(tx: Transaction, lot: Lot) -> list[LotTake]:
    """The receipts that a lot is made of, in the order in which they were added."""
    return [_take(row) for row in tx.run("takes_of_lot", lot_id=lot.id)]


def of_farm(tx: Transaction, farm_id: str) -> list[tuple[str, LotTake]]:
    """What lots hold of a farm, each with the lot's name."""
    return [(row["lot"], _take(row)) for row in tx.run("lots_of_farm", farm_id=farm_id)]


def sold_of_farm(tx: Transaction, farm_id: str, first: date, last: date) -> dict[str, list[LotTake]]:
    """What lots that were closed on these days (UTC) hold of a farm, by the lot's name."""
    found: dict[str, list[LotTake]] = {}
    until = (last + timedelta(days=1)).isoformat()
    for row in tx.run("sold_of_farm", farm_id=farm_id, since=first.isoformat(), before=until):
        found.setdefault(row["lot"], []).append(_take(row))
    return found


def _take(row: Mapping[str, Any]) -> LotTake:
    return LotTake(row["id"], row["lot_id"], row["farm_id"], row["take_id"], row["grams"])


def unknowns(tx: Transaction, lot: Lot) -> list[LotUnknown]:
    """Rubber of unknown origin that was put into a lot."""
    return [LotUnknown(row["grams"], row["note"]) for row in tx.run("unknowns_of_lot", lot_id=lot.id)]


def close(tx: Transaction, lot: Lot, net_grams: int, buyer: str, statement: Mapping[str, Any], *, at: datetime) -> None:
    """A lot is sold and changes no more. Raises LotRefused for one that is closed."""
    kept = json.dumps(statement, ensure_ascii=False)
    if not tx.run("close_lot", id=lot.id, at=moment_out(at), net_grams=net_grams, buyer=buyer, statement=kept):
        raise LotRefused(f"The lot {lot.name} is closed already.")
