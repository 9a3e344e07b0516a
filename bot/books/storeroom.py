"""What lies at a cooperative's store by the books: sheets, latex and lump in kilos, and bales; and how it got there.

Taken is what receipts were paid for. Sheets become bales, and both leave; what was counted against the books takes their place.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from bot.books.convert import moment_out, rounded, scaled
from bot.books.ids import new_id
from bot.books.store import Transaction

ZERO = Decimal(0)


@dataclass(frozen=True)
class Moved:
    """Kilos of one kind up to a day: what came in, was pressed, left, and what counting found more (or less) than the books.

    Of sheets `came` is what was taken and `pressed` what became bales; of bales `came` is what was pressed and `pressed` 0.
    """

    came: Decimal = ZERO
    pressed: Decimal = ZERO
    left: Decimal = ZERO
    counted: Decimal = ZERO
    counts: int = 0

    @property
    def there(self) -> Decimal:
        """What should be at the store."""
        return self.came - self.pressed - self.left + self.counted

    def plus(self, more: "Moved") -> "Moved":
        """What moved altogether."""
        return Moved(
            self.came + more.came,
            self.pressed + more.pressed,
            self.left + more.left,
            self.counted + more.counted,
            self.counts + more.counts,
        )

    def since(self, before: "Moved") -> "Moved":
        """What moved since an earlier day."""
        less = Moved(-before.came, -before.pressed, -before.left, -before.counted, -before.counts)
        return self.plus(less)


@dataclass(frozen=True)
class Bale:
    """Bales of a grade: what one weighs, kg."""

    kind: str
    kg: Decimal

    @property
    def grams(self) -> int:
        """What one weighs, in grams."""
        return int(self.kg * 1000)


def bale_in(row: Mapping[str, Any]) -> Bale:
    """The bales that a row is about."""
    return Bale(row["kind"], _kg(row["bale_g"]))


@dataclass(frozen=True)
class Storeroom:
    """A store at the end of a day: what moved of each grade or form, and of each kind of bale."""

    loose: Mapping[str, Moved]
    bales: Mapping[Bale, Moved]

    @property
    def sheets(self) -> dict[str, Decimal]:
        """Kilos that are in no bale, by grade or form, the most first."""
        found = {kind: moved.there for kind, moved in self.loose.items() if moved.there}
        return dict(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))

    @property
    def pieces(self) -> dict[Bale, int]:
        """How many bales there are of each kind."""
        found = {bale: int(moved.there / bale.kg) for bale, moved in self.bales.items()}
        return {
            bale: pieces
            for bale, pieces in sorted(found.items(), key=lambda pair: (pair[0].kind, pair[0].kg))
            if pieces
        }


def hold(tx: Transaction, cooperative_id: str) -> None:
    """Hold a store until the transaction ends, before looking what is there to be taken: nothing leaves it twice."""
    tx.run("hold_store", cooperative_id=cooperative_id)


def at(tx: Transaction, cooperative_id: str, day: date) -> Storeroom:
    """The store by the books at the end of a day."""
    when = {"cooperative_id": cooperative_id, "day": day.isoformat()}
    loose: dict[str, Moved] = {}
    bales: dict[Bale, Moved] = {}
    for row in tx.run("taken_into_store", **when):
        loose[row["kind"]] = Moved(came=_kg(row["paid_g"]))
    for row in tx.run("pressed", **when):
        bale = bale_in(row)
        pressed = bale.kg * int(row["pieces"])
        bales[bale] = Moved(came=pressed)
        loose[bale.kind] = loose.get(bale.kind, Moved()).plus(Moved(pressed=pressed))
    for row in tx.run("left_store", **when):
        _add(loose, bales, row, Moved(left=_kg(row["grams"])))
    for row in tx.run("left_with_lots", **when):
        bale = bale_in(row)
        bales[bale] = bales.get(bale, Moved()).plus(Moved(left=bale.kg * int(row["pieces"])))
    for row in tx.run("counted", **when):
        _add(loose, bales, row, Moved(counted=_kg(row["grams"]), counts=int(row["times"])))
    return Storeroom(loose, bales)


def _add(loose: dict[str, Moved], bales: dict[Bale, Moved], row: Mapping[str, Any], more: Moved) -> None:
    """What moved, to the bales of its weight or to what is in none."""
    if row["bale_g"] is None:
        loose[row["kind"]] = loose.get(row["kind"], Moved()).plus(more)
    else:
        bale = bale_in(row)
        bales[bale] = bales.get(bale, Moved()).plus(more)


def press(
    tx: Transaction, cooperative_id: str, bale: Bale, pieces: int, *, day: date, at: datetime, message_id: str
) -> None:
    """Sheets are pressed into so many bales; below 0 where a pressing is taken back."""
    tx.run(
        "add_bales",
        id=new_id(),
        cooperative_id=cooperative_id,
        day=day.isoformat(),
        kind=bale.kind,
        bale_g=_grams(bale.kg),
        pieces=pieces,
        entered_at=moment_out(at),
        message_id=message_id,
    )


def leave(
    tx: Transaction,
    cooperative_id: str,
    kind: str,
    kg: Decimal,
    *,
    bale_kg: Decimal | None = None,
    day: date,
    at: datetime,
    message_id: str,
) -> None:
    """So many kg of a kind left the store (sold, sent on): in bales of a weight, or loose."""
    tx.run(
        "add_store_out",
        id=new_id(),
        cooperative_id=cooperative_id,
        day=day.isoformat(),
        kind=kind,
        grams=_grams(kg),
        bale_g=None if bale_kg is None else _grams(bale_kg),
        entered_at=moment_out(at),
        message_id=message_id,
    )


def count(
    tx: Transaction,
    cooperative_id: str,
    kind: str,
    kg: Decimal,
    expected: Decimal,
    *,
    bale_kg: Decimal | None = None,
    day: date,
    at: datetime,
    message_id: str,
) -> None:
    """So many kg of a kind were found at the store where the books had `expected`; the books go on from what was found."""
    tx.run(
        "add_store_count",
        id=new_id(),
        cooperative_id=cooperative_id,
        day=day.isoformat(),
        kind=kind,
        bale_g=None if bale_kg is None else _grams(bale_kg),
        expected_g=_grams(expected),
        grams=_grams(kg),
        entered_at=moment_out(at),
        message_id=message_id,
    )


def _grams(kg: Decimal) -> int | None:
    return scaled(rounded(kg, 1000), 1000)


def _kg(grams: int) -> Decimal:
    return Decimal(int(grams)) / 1000
