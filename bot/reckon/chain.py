"""From latex to sheets to kilos: which latex each rolling was made of, and which sheets were weighed and taken.

Sheets are followed first in, first out. A rolling is made of the latex of the days before that no earlier rolling used, or,
where there is none, of the latex of its own day; one that names a block, of that block's latex alone. Latex that waited
longer than `KEEPS_DAYS` was sold or lost, not rolled. Sheets weighed dry at home are taken from the oldest rollings; a
collector takes from what was weighed, then from what still hangs.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from bot.books.model import Entry
from parsers.reading import Record, What

#: Latex set in a pan is rolled within so many days. Common practice, no source.
KEEPS_DAYS = 4


@dataclass(frozen=True)
class Part:
    """A share (0 to 1) of one entry of latex."""

    entry: Entry
    share: float


@dataclass(frozen=True)
class Rolling:
    """Sheets rolled together, with the latex that they were made of; `latex` is empty where none was reported."""

    entry: Entry
    count: int
    latex: tuple[Part, ...]

    @property
    def day(self) -> date:
        """The day of rolling."""
        assert self.entry.record.day is not None
        return self.entry.record.day


@dataclass(frozen=True)
class Sheets:
    """Some sheets of one rolling."""

    rolling: Rolling
    count: int


@dataclass(frozen=True)
class Weighing:
    """Sheets put on a scale, at home or by a collector, and the rollings they came from.

    `unknown` sheets were never reported as rolled.
    """

    entry: Entry
    kg: Decimal
    sheets: tuple[Sheets, ...]
    unknown: int = 0


@dataclass(frozen=True)
class Chain:
    """Where every sheet is: still hanging, weighed dry and in store, or taken."""

    rollings: tuple[Rolling, ...]
    weighings: tuple[Weighing, ...]
    taken: tuple[Weighing, ...]
    hanging: tuple[Sheets, ...]
    in_store: tuple[Sheets, ...]


@dataclass
class _Queue:
    """Sheets first in, first out."""

    waiting: list[Sheets] = field(default_factory=list)

    def take(self, count: int, block: str | None = None) -> tuple[Sheets, ...]:
        """The oldest sheets, at most so many; of one block's rollings alone where a block is named and has its own."""
        own = block is not None and any(each.rolling.entry.record.block == block for each in self.waiting)
        taken, kept = [], []
        for each in self.waiting:
            fits = not own or each.rolling.entry.record.block == block
            now = min(each.count, count) if fits else 0
            if now:
                taken.append(Sheets(each.rolling, now))
                count -= now
            if each.count > now:
                kept.append(Sheets(each.rolling, each.count - now))
        self.waiting = kept
        return tuple(taken)


def taken_here(record: Record, farm_name: str) -> bool:
    """Whether a record is a take from this farm: a collector may text what he took elsewhere into its book too."""
    here = record.farm is None or record.farm.casefold() == farm_name.casefold()
    return record.what is What.COLLECTED and here


def follow(standing: Iterable[Entry], farm_name: str) -> Chain:
    """The chain of a farm from what stands in its book; takes at other farms are left out."""
    found = sorted(
        standing, key=lambda entry: (entry.record.day or date.min, _order(entry), entry.entered_at, entry.id)
    )
    rollings = _rollings(found)
    hanging, store = _Queue(), _Queue()
    weighings, taken = [], []
    for entry in found:
        record = entry.record
        if entry.id in rollings:
            hanging.waiting.append(Sheets(rollings[entry.id], rollings[entry.id].count))
        elif record.what is What.SHEETS_DRY and record.count and record.kg:
            weighing = _weighing(entry, record.count, hanging.take(record.count, record.block))
            weighings.append(weighing)
            store.waiting.extend(weighing.sheets)
        elif record.sheets and taken_here(record, farm_name):
            from_store = store.take(record.sheets)
            from_lines = hanging.take(record.sheets - _count(from_store))
            take = _weighing(entry, record.sheets, from_store + from_lines)
            taken.append(take)
            if from_lines and not from_store and record.kg:
                weighings.append(take)
    return Chain(tuple(rollings.values()), tuple(weighings), tuple(taken), tuple(hanging.waiting), tuple(store.waiting))


def _order(entry: Entry) -> int:
    """On one day sheets are rolled, then weighed, then taken, in whatever order the texts came."""
    return {What.SHEETS_ROLLED: 1, What.SHEETS_DRY: 2, What.COLLECTED: 3}.get(entry.record.what, 0)


def _weighing(entry: Entry, wanted: int, sheets: tuple[Sheets, ...]) -> Weighing:
    return Weighing(entry, entry.record.kg or Decimal(0), sheets, wanted - _count(sheets))


def _count(sheets: Sequence[Sheets]) -> int:
    return sum(each.count for each in sheets)


def _rollings(found: Sequence[Entry]) -> dict[str, Rolling]:
    """Every rolling by its entry's id, in order; rollings of one day and block share its latex by their counts."""
    latex = [entry for entry in found if entry.record.what is What.LATEX and (entry.record.litres or entry.record.kg)]
    rolled = [entry for entry in found if entry.record.what is What.SHEETS_ROLLED and entry.record.count]
    groups: dict[tuple[date | None, str | None], list[Entry]] = {}
    for entry in rolled:
        groups.setdefault((entry.record.day, entry.record.block), []).append(entry)
    rollings = {}
    for (day, block), group in groups.items():
        assert day is not None
        used = _latex_for(latex, day, block)
        latex = [entry for entry in latex if entry not in used]
        whole = sum(entry.record.count or 0 for entry in group)
        for entry in group:
            count = entry.record.count or 0
            rollings[entry.id] = Rolling(entry, count, tuple(Part(each, count / whole) for each in used))
    return {entry.id: rollings[entry.id] for entry in rolled}


def _latex_for(latex: Sequence[Entry], day: date, block: str | None) -> list[Entry]:
    oldest = day - timedelta(days=KEEPS_DAYS)
    waiting = [
        entry
        for entry in latex
        if oldest <= (entry.record.day or date.min) <= day and block in (None, entry.record.block)
    ]
    before = [entry for entry in waiting if entry.record.day != day]
    return before or waiting
