"""Which bales of a cooperative's store make up a lot: a bale is in one lot at most, and leaves the store with it, once.

Bales have no numbers: they are known by cooperative, grade, weight, and the days on which they were pressed. The oldest go first.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from bot.books import storeroom
from bot.books.convert import moment_or_none, moment_out, scaled
from bot.books.ids import new_id
from bot.books.lots import Lot, LotRefused, hold
from bot.books.store import Transaction
from bot.books.storeroom import Bale


@dataclass(frozen=True)
class LotBales:
    """So many bales of one grade and weight in a lot, pressed from one day to another."""

    id: str
    cooperative_id: str
    cooperative: str
    bale: Bale
    pieces: int
    pressed_first: date
    pressed_last: date

    @property
    def grams(self) -> int:
        """What they weigh together."""
        return int(self.bale.kg * 1000) * self.pieces


@dataclass(frozen=True)
class LotOfCooperative:
    """What a lot holds of a cooperative: grams of its growers' receipts, and bales of its store with their grams."""

    name: str
    closed_at: datetime | None
    grams: int
    pieces: int
    bale_grams: int


def lots_of(tx: Transaction, cooperative_id: str, most: int) -> list[LotOfCooperative]:
    """Of so many lots begun last those that hold anything of a cooperative, the newest first."""
    rows = tx.run("lots_of_cooperative", cooperative_id=cooperative_id, most=most)
    found = [
        LotOfCooperative(
            row["name"],
            moment_or_none(row["closed_at"]),
            *(int(row[name] or 0) for name in ("grams", "pieces", "bale_grams")),
        )
        for row in rows
    ]
    return [each for each in found if each.grams or each.pieces]


def free(tx: Transaction, cooperative_id: str, day: date) -> dict[Bale, int]:
    """Bales that should be at a store at the end of a day and are in no open lot."""
    there = dict(storeroom.at(tx, cooperative_id, day).pieces)
    for bale, pieces in in_open_lots(tx, cooperative_id).items():
        there[bale] = there.get(bale, 0) - pieces
    return there


def in_open_lots(tx: Transaction, cooperative_id: str) -> dict[Bale, int]:
    """Bales at a store that are in lots which are not sold yet."""
    return {
        Bale(row["kind"], Decimal(row["bale_g"]) / 1000): int(row["pieces"])
        for row in tx.run("bales_in_open_lots", cooperative_id=cooperative_id)
    }


def add(tx: Transaction, lot: Lot, cooperative_id: str, bale: Bale, pieces: int, *, day: date, at: datetime) -> None:
    """Put so many bales of a store into a lot. Raises LotRefused where there are not so many in no lot."""
    hold(tx, lot)
    storeroom.hold(tx, cooperative_id)
    left = free(tx, cooperative_id, day).get(bale, 0)
    if not 0 < pieces <= left:
        raise LotRefused(
            f"The store should hold {max(left, 0)} bales {bale.kind} of {bale.kg} kg that are in no lot, and not {pieces}."
        )
    days = _days(tx, cooperative_id, bale, pieces)
    tx.run(
        "add_lot_bales",
        id=new_id(),
        lot_id=lot.id,
        cooperative_id=cooperative_id,
        kind=bale.kind,
        bale_g=scaled(bale.kg, 1000),
        pieces=pieces,
        pressed_first=min(days).isoformat(),
        pressed_last=max(days).isoformat(),
        added_at=moment_out(at),
    )


def _days(tx: Transaction, cooperative_id: str, bale: Bale, pieces: int) -> list[date]:
    """When the next bales to go were pressed: those before them are in lots, or left otherwise."""
    which = {"cooperative_id": cooperative_id, "kind": bale.kind, "bale_g": scaled(bale.kg, 1000)}
    gone = int(tx.run("bales_ever_in_lots", **which)[0]["pieces"] or 0)
    gone += int(tx.run("bales_left_otherwise", **which)[0]["grams"] or 0) // int(bale.kg * 1000)
    each = list(_one_by_one(tx.run("pressings", **which)))
    return (
        each[gone : gone + pieces] or each[-1:]
    )  # counting found more than were pressed: the last pressing is the nearest


def _one_by_one(rows: list[dict[str, Any]]) -> Iterator[date]:
    """The day of each bale, oldest first; what was taken back was the newest at that time."""
    found: list[date] = []
    for row in rows:
        if row["pieces"] > 0:
            found += [date.fromisoformat(row["day"])] * int(row["pieces"])
        else:
            del found[int(row["pieces"]) :]
    return iter(found)


def of_lot(tx: Transaction, lot: Lot) -> list[LotBales]:
    """The bales of a lot, in the order in which they were added."""
    return [_bales(row) for row in tx.run("bales_of_lot", lot_id=lot.id)]


def _bales(row: Mapping[str, Any]) -> LotBales:
    return LotBales(
        row["id"],
        row["cooperative_id"],
        row["cooperative"],
        Bale(row["kind"], Decimal(row["bale_g"]) / 1000),
        int(row["pieces"]),
        date.fromisoformat(row["pressed_first"]),
        date.fromisoformat(row["pressed_last"]),
    )


def take_out(tx: Transaction, lot: Lot, bales: LotBales, *, at: datetime) -> None:
    """Take bales out of an open lot again. Raises LotRefused."""
    hold(tx, lot)
    tx.run("take_bales_out_of_lot", id=bales.id, at=moment_out(at))


def leave(tx: Transaction, lot: Lot, cooperative_id: str, day: date) -> None:
    """The bales of a lot leave a cooperative's store with it. Raises LotRefused where the store has not so many any more."""
    storeroom.hold(tx, cooperative_id)
    there = storeroom.at(tx, cooperative_id, day).pieces
    wanted: dict[Bale, int] = {}
    for each in of_lot(tx, lot):
        if each.cooperative_id == cooperative_id:
            wanted[each.bale] = wanted.get(each.bale, 0) + each.pieces
    for bale, pieces in wanted.items():
        if pieces > there.get(bale, 0):
            raise LotRefused(
                f"The store should hold {there.get(bale, 0)} bales {bale.kind} of {bale.kg} kg, and the lot {lot.name} has {pieces}: "
                "count the store, or take bales out of the lot."
            )
    tx.run("bales_leave_with_lot", lot_id=lot.id, cooperative_id=cooperative_id, day=day.isoformat())
