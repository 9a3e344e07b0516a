"""From a receipt back to blocks and days: which latex the collected sheets were made of, and what cannot be said.

Sheets are followed first in, first out (`chain`). The grams of a receipt are shared over the latex of its sheets by the dry
rubber that was expected of it. What has no latex in the book, no block, or weighs more than its latex can have given, is of
unknown origin.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.reckon.chain import Part, Weighing, follow, taken_here
from bot.reckon.wording import later
from bot.rubber.filtering import SURPRISE
from bot.rubber.money import split
from bot.rubber.reference import NORMAL_80
from parsers.reading import What


class Why(StrEnum):
    """Why it cannot be said where some rubber comes from."""

    NO_COUNT = later("no count of sheets, so that they cannot be followed")
    NO_ROLLING = later("sheets that nobody reported as rolled")
    NO_LATEX = later("sheets without latex in the book")
    NO_BLOCK = later("latex without a block")
    TOO_HEAVY = later("more than its latex can have given")
    NO_PLOT = later("block without a plot")
    GONE = later("the receipt was corrected or taken out after it was put into the lot")


@dataclass(frozen=True)
class Share:
    """Grams of a receipt that come from a block's latex of a day."""

    block: str
    day: date
    grams: int


@dataclass(frozen=True)
class Origin:
    """Where a receipt's grams come from: the parts of both add up to it."""

    known: tuple[Share, ...]
    unknown: tuple[tuple[Why, int], ...]

    def part(self, grams: int) -> "Origin":
        """So many grams of it, each source in its proportion; the parts add up to them."""
        whole: dict[Share | Why, Decimal] = {each: Decimal(each.grams) for each in self.known}
        whole |= {why: Decimal(each) for why, each in self.unknown}
        if not sum(whole.values()):
            return Origin((), ((Why.NO_COUNT, grams),) if grams else ())
        found = split(Decimal(grams), whole, 0)
        known = tuple(Share(each.block, each.day, int(found[each])) for each in self.known if found[each])
        return Origin(known, tuple((why, int(found[why])) for why, _ in self.unknown if found[why]))


@dataclass(frozen=True)
class Receipt:
    """A take from a farm: its number, the id of its first line, and the line that stands (None: it was taken out)."""

    number: int
    first_id: str
    entry: Entry | None

    @property
    def grams(self) -> int:
        """What was weighed, as the book stands."""
        kg = None if self.entry is None else self.entry.record.kg
        return 0 if kg is None else int(kg * 1000)


def receipts(tx: Transaction, farm: Farm) -> list[Receipt]:
    """The receipts of a farm by number, from every line of its book."""
    return receipts_in(entries.all_entries(tx, farm.id), farm.name, entries.receipt_numbers(tx, farm.id))


def receipts_in(all_lines: Sequence[Entry], farm_name: str, numbers: Mapping[str, int]) -> list[Receipt]:
    """The receipts in these lines: `numbers` are those that a cooperative gave, by the first line of a take, the others are
    the farm's own. Takes elsewhere keep their numbers and are left out.
    """
    after = {each.replaces: each for each in all_lines if each.replaces is not None}
    firsts = sorted(
        (each for each in all_lines if each.record.what is What.COLLECTED and each.replaces is None),
        key=lambda each: each.id,
    )
    found = []
    for number, first in enumerate(firsts, entries.FIRST_RECEIPT):
        last = first
        while last.id in after:
            last = after[last.id]
        if taken_here(last.record, farm_name):
            found.append(Receipt(numbers.get(first.id, number), first.id, None if last.removed else last))
    return found


def origins(standing: Iterable[Entry], farm_name: str, blocks: Sequence[str]) -> dict[str, Origin]:
    """The origin of every take of a farm, by the id of the line that stands. On a farm of one block all latex is its."""
    lines = list(standing)
    found = {each.entry.id: _origin(each, blocks) for each in follow(lines, farm_name).taken}
    for each in lines:
        if taken_here(each.record, farm_name) and each.id not in found and each.record.kg:
            found[each.id] = Origin((), ((Why.NO_COUNT, int(each.record.kg * 1000)),))
    return found


def _origin(take: Weighing, blocks: Sequence[str]) -> Origin:
    """Grams by sheets: those with latex together, by what it was expected to give; the others by their count."""
    grams = int(take.kg * 1000)
    counts: dict[Why | None, Decimal] = {}
    for sheets in take.sheets:
        why = None if _dry(sheets.rolling.latex) > 0 else Why.NO_LATEX
        counts[why] = counts.get(why, Decimal(0)) + sheets.count
    if take.unknown:
        counts[Why.NO_ROLLING] = Decimal(take.unknown)
    if not grams or not counts:
        return Origin((), ())
    by_count = split(Decimal(grams), counts, 0)
    shares, unknown = _shares(take, int(by_count.get(None, 0)), blocks)
    for why, each in by_count.items():
        if why is not None and each:
            unknown[why] = unknown.get(why, 0) + int(each)
    return Origin(shares, tuple(unknown.items()))


def _shares(take: Weighing, grams: int, blocks: Sequence[str]) -> tuple[tuple[Share, ...], dict[Why, int]]:
    """So many grams over the latex of a take; what is more than it can have given, and what has no block, is unknown."""
    expected: dict[tuple[str | None, date], Decimal] = {}
    most = Decimal(0)
    for sheets in take.sheets:
        for part in sheets.rolling.latex:
            assert part.entry.record.day is not None
            kept = part.entry.computed or {}
            share = part.share * sheets.count / sheets.rolling.count
            middle = kept.get("dry_kg", 0)
            dry = _exact(middle * share)
            spread = _exact(kept.get("dry_high_kg", middle) * share) - dry
            most += dry + spread * _exact(SURPRISE / NORMAL_80)
            block = part.entry.record.block or (blocks[0] if len(blocks) == 1 else None)
            key = (block, part.entry.record.day)
            expected[key] = expected.get(key, Decimal(0)) + dry
    heavy = max(0, grams - int(most * 1000))
    unknown = {Why.TOO_HEAVY: heavy} if heavy else {}
    if grams == heavy:
        return (), unknown
    found = split(Decimal(grams - heavy), expected, 0)
    shares = tuple(Share(block, day, int(each)) for (block, day), each in found.items() if block is not None and each)
    blockless = sum(int(each) for (block, _), each in found.items() if block is None)
    return shares, unknown | ({Why.NO_BLOCK: blockless} if blockless else {})


def _dry(latex: Iterable[Part]) -> float:
    return sum(float((part.entry.computed or {}).get("dry_kg", 0)) * part.share for part in latex)


def _exact(number: float) -> Decimal:
    return Decimal(str(round(number, 6)))


def by_block(shares: Iterable[Share]) -> Mapping[str, tuple[Share, ...]]:
    """The shares of each block, by day."""
    found: dict[str, tuple[Share, ...]] = {}
    for each in sorted(shares, key=lambda share: (share.block, share.day)):
        found[each.block] = (*found.get(each.block, ()), each)
    return found
