"""The store's part of the reconciliation: taken -> baled -> sold, over some days, as the books and counting have it.

Mass balance: what was there, and came, is what was pressed, left, or is there still; the gap is what counting found.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, storeroom
from bot.books.cooperatives import Cooperative
from bot.books.model import FarmSettings
from bot.books.storeroom import Bale, Moved
from bot.reckon.gaps import Row
from bot.reckon.wording import figure, later

ZERO = Decimal(0)


@dataclass(frozen=True)
class Flow:
    """Kilos of one kind over some days: there at the start, what moved, and there at the end."""

    start: Decimal
    moved: Moved
    end: Decimal


@dataclass(frozen=True)
class Flows:
    """What moved at a store over some days: sheets, latex and lump by grade or form, and bales."""

    loose: dict[str, Flow]
    bales: dict[Bale, Flow]


def flows(tx: Transaction, cooperative: Cooperative, first: date, last: date) -> Flows:
    """What moved from `first` to `last`, both included."""
    before = storeroom.at(tx, cooperative.id, first - timedelta(days=1))
    after = storeroom.at(tx, cooperative.id, last)
    return Flows(
        {kind: _flow(before.loose.get(kind), moved) for kind, moved in sorted(after.loose.items())},
        {
            bale: _flow(before.bales.get(bale), moved)
            for bale, moved in sorted(after.bales.items(), key=lambda pair: (pair[0].kind, pair[0].kg))
        },
    )


def _flow(before: Moved | None, after: Moved) -> Flow:
    was = before or Moved()
    return Flow(was.there, after.since(was), after.there)


def steps(seen: Flows) -> list[Row]:
    """Two rows: sheets that are gone from the store against those that were pressed or sold, and bales gone against sold.

    What is gone and was neither is told from the usual limit of a farm on.
    """
    return [
        _step(later("Baled or sold, of sheets taken"), seen.loose.values(), _of_sheets),
        _step(later("Sold, of bales"), seen.bales.values(), _of_bales),
    ]


def _of_sheets(gap: Decimal) -> str:
    kg = figure(float(abs(gap)))
    if gap > 0:
        return later("The store holds {kg} kg more than the books: is a take missing, or were bales lighter?", kg=kg)
    return later(
        "The store holds {kg} kg less than the books: dried out, not entered as sold or baled, or missing?", kg=kg
    )


def _of_bales(gap: Decimal) -> str:
    kg = figure(float(abs(gap)))
    if gap > 0:
        return later("{kg} kg of bales more are there than the books have: is a text about pressing missing?", kg=kg)
    return later("{kg} kg of bales are neither there nor entered as sold: is a text missing?", kg=kg)


def _step(name: str, found: Iterable[Flow], asked: Callable[[Decimal], str]) -> Row:
    gone = used = ZERO
    counts = 0
    for each in found:
        gone += each.start + each.moved.came - each.end
        used += each.moved.pressed + each.moved.left
        counts += each.moved.counts
    row = Row(name, float(gone), float(used), None, counts, counted=True)
    gap = used - gone
    percent = row.percent
    told = bool(gap) and (percent is None or abs(percent) >= float(FarmSettings().gap_percent))
    return replace(row, told=told, question=asked(gap) if told else "")
