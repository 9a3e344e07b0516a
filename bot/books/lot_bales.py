"""Which bales of a cooperative's store make up a lot: a bale is in one lot at most, and leaves the store with it, once.

Bales have no numbers: they are known by cooperative, grade, weight, and the days on which they were pressed. The oldest go first.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from bot.books import storeroom
from bot.books.convert import moment_or_none, moment_out
from bot.books.ids import new_id
from bot.books.lots import Lot, LotRefused, hold
from bot.books.store import Transaction
from bot.books.storeroom import Bale


@dataclass(frozen=True)
class LotBales:
    """So many bales of one grade and weight in a lot, pressed on one day."""

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
        return self.bale.grams * self.pieces


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
        storeroom.bale_in(row): int(row["pieces"])
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
    for pressed, count in _oldest(tx, cooperative_id, bale, pieces).items():
        _add(tx, lot, cooperative_id, bale, count, pressed, at)


def _add(
    tx: Transaction, lot: Lot, cooperative_id: str, bale: Bale, pieces: int, pressed: date, at: datetime
) -> None:  # fmt: skip
    tx.run(
        "add_lot_bales",
        id=new_id(),
        lot_id=lot.id,
        cooperative_id=cooperative_id,
        kind=bale.kind,
        bale_g=bale.grams,
        pieces=pieces,
        pressed_first=pressed.isoformat(),
        pressed_last=pressed.isoformat(),
        added_at=moment_out(at),
    )


def _oldest(tx: Transaction, cooperative_id: str, bale: Bale, pieces: int) -> Counter[date]:
    """So many of the oldest bales that are in no lot, by the day of their pressing. Raises LotRefused where none was pressed.

    What left the store in no lot was the oldest then. Where counting found more than were pressed the last pressing is the
    nearest.
    """
    which = {"cooperative_id": cooperative_id, "kind": bale.kind, "bale_g": bale.grams}
    pressed = list(_one_by_one(tx.run("pressings", **which)))
    if not pressed:
        raise LotRefused(
            f"No pressing of bales {bale.kind} of {bale.kg} kg stands in the books: enter when they were pressed."
        )
    in_lots = {date.fromisoformat(row["day"]): int(row["pieces"]) for row in tx.run("bales_in_lots_by_day", **which)}
    there = sorted((Counter(pressed) - Counter(in_lots)).elements())
    left = int(tx.run("bales_left_otherwise", **which)[0]["grams"] or 0) // bale.grams
    taken = there[left : left + pieces]
    return Counter(taken + [pressed[-1]] * (pieces - len(taken)))


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
        storeroom.bale_in(row),
        int(row["pieces"]),
        date.fromisoformat(row["pressed_first"]),
        date.fromisoformat(row["pressed_last"]),
    )


def take_out(tx: Transaction, lot: Lot, cooperative_id: str, bale: Bale, pieces: int, *, at: datetime) -> None:
    """Take so many bales out of an open lot again, those pressed last. Raises LotRefused where it has not so many."""
    hold(tx, lot)
    own = [each for each in of_lot(tx, lot) if (each.cooperative_id, each.bale) == (cooperative_id, bale)]
    there = sum(each.pieces for each in own)
    if pieces > there:
        raise LotRefused(f"The lot {lot.name} has {there} bales {bale.kind} of {bale.kg} kg, and not {pieces}.")
    for each in sorted(own, key=lambda each: each.pressed_last, reverse=True):
        gone = min(pieces, each.pieces)
        if gone:
            tx.run("take_bales_out_of_lot", id=each.id, at=moment_out(at))
        if 0 < gone < each.pieces:
            _add(tx, lot, cooperative_id, bale, each.pieces - gone, each.pressed_last, at)
        pieces -= gone


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
