"""From latex to sheets to kilos: which latex each rolling was made of, and which sheets were weighed and taken.

Sheets are followed first in, first out. A rolling is made of the latex of the days before that no earlier rolling used, or,
where there is none, of the latex of its own day; one that names a block, of that block's latex alone. Latex that waited
longer than `KEEPS_DAYS` was sold or lost, not rolled. Sheets weighed dry at home are taken from the oldest rollings; a
collector takes from what was weighed, then from what still hangs. Sheets that nobody weighed or took for `HANGS_DAYS` after
their rolling are gone, those weighed and not taken after `STORED_DAYS`: a book that loses some sheets does not stay wrong.

A day hangs on those before it through the `Stand` alone: what waits, hangs and is in store at its beginning.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from bot.books.model import Entry
from parsers.reading import Record, What

#: Latex set in a pan is rolled within so many days. Common practice, no source.
KEEPS_DAYS = 4

#: Days after their rolling when sheets that were neither weighed nor taken are taken for gone, and those weighed and not
#: taken. Common practice, no source: sheets dry in days to weeks, and are stored for a better price for months.
HANGS_DAYS, STORED_DAYS = 60, 400


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
class Stand:
    """How a chain stands at the end of a day: latex not rolled yet, sheets that hang, sheets in store, oldest first."""

    latex: tuple[Entry, ...] = ()
    hanging: tuple[Sheets, ...] = ()
    in_store: tuple[Sheets, ...] = ()

    def after(self, day: date) -> "Stand":
        """The same without what can play no part on any later day."""
        latex = tuple(each for each in self.latex if _day(each) > day - timedelta(days=KEEPS_DAYS))
        hanging = tuple(each for each in self.hanging if each.rolling.day > day - timedelta(days=HANGS_DAYS))
        in_store = tuple(each for each in self.in_store if each.rolling.day > day - timedelta(days=STORED_DAYS))
        return Stand(latex, hanging, in_store)


@dataclass(frozen=True)
class Chain:
    """Where every sheet is: still hanging, weighed dry and in store, taken, or gone from the lines; and the latex that is not
    rolled.
    """

    rollings: tuple[Rolling, ...]
    weighings: tuple[Weighing, ...]
    taken: tuple[Weighing, ...]
    hanging: tuple[Sheets, ...]
    in_store: tuple[Sheets, ...]
    unrolled: tuple[Entry, ...] = ()
    gone: tuple[Sheets, ...] = ()

    @property
    def stand(self) -> Stand:
        """What the days after it begin with."""
        return Stand(self.unrolled, self.hanging, self.in_store)


@dataclass
class _Queue:
    """Sheets first in, first out."""

    waiting: list[Sheets] = field(default_factory=list)
    gone: list[Sheets] = field(default_factory=list)

    def take(self, count: int, oldest: date, block: str | None = None) -> tuple[Sheets, ...]:
        """The oldest sheets, at most so many; of one block's rollings alone where a block is named and has its own.

        What was rolled before the day `oldest` is gone.
        """
        gone = [each for each in self.waiting if each.rolling.day < oldest]
        if gone:
            self.gone += gone
            self.waiting = [each for each in self.waiting if each.rolling.day >= oldest]
        own = block is not None and any(each.rolling.entry.record.block == block for each in self.waiting)
        taken, kept = [], []
        for each in self.waiting:
            fits = not own or each.rolling.entry.record.block == block
            now = min(each.count, count) if fits else 0
            if now:
                taken.append(Sheets(each.rolling, now))
                count -= now
            if each.count > now:
                kept.append(Sheets(each.rolling, each.count - now) if now else each)
        self.waiting = kept
        return tuple(taken)


def taken_here(record: Record, farm_name: str) -> bool:
    """Whether a record is a take from this farm: a collector may text what he took elsewhere into its book too."""
    here = record.farm is None or record.farm.casefold() == farm_name.casefold()
    return record.what is What.COLLECTED and here


def follow(standing: Iterable[Entry], farm_name: str, start: Stand = Stand()) -> Chain:
    """The chain of a farm from what stands in its book; takes at other farms are left out.

    With `start`, how it stood before the first day of these entries.
    """
    follower = _Follower(farm_name, start)
    dated = (entry for entry in standing if entry.record.day is not None)
    found = sorted(dated, key=lambda entry: (_day(entry), _ORDER.get(entry.record.what, 0), entry.entered_at, entry.id))
    for _, day in groupby(found, key=_day):
        follower.take(list(day))
    return follower.chain()


def _day(entry: Entry) -> date:
    assert entry.record.day is not None
    return entry.record.day


#: On one day sheets are rolled, then weighed, then taken, in whatever order the texts came.
_ORDER = {What.SHEETS_ROLLED: 1, What.SHEETS_DRY: 2, What.COLLECTED: 3}


class _Follower:
    """The chain while it is followed from day to day."""

    def __init__(self, farm_name: str, start: Stand) -> None:
        self.farm_name = farm_name
        self.latex = list(start.latex)
        self.hanging, self.store = _Queue(list(start.hanging)), _Queue(list(start.in_store))
        self.rollings: list[Rolling] = []
        self.weighings: list[Weighing] = []
        self.taken: list[Weighing] = []

    def chain(self) -> Chain:
        return Chain(
            tuple(self.rollings),
            tuple(self.weighings),
            tuple(self.taken),
            tuple(self.hanging.waiting),
            tuple(self.store.waiting),
            tuple(self.latex),
            tuple(self.hanging.gone),
        )

    def take(self, entries: Sequence[Entry]) -> None:
        """All entries of the next day, in their order."""
        day = _day(entries[0])
        self.latex = [each for each in self.latex if _day(each) >= day - timedelta(days=KEEPS_DAYS)]
        self.latex += [
            each for each in entries if each.record.what is What.LATEX and (each.record.litres or each.record.kg)
        ]
        rolled = self._rolled(
            [each for each in entries if each.record.what is What.SHEETS_ROLLED and each.record.count]
        )
        self.rollings += rolled
        self.hanging.waiting += [Sheets(each, each.count) for each in rolled]
        for entry in entries:
            if entry.record.what is What.SHEETS_DRY:
                self._weigh(entry, day)
            elif taken_here(entry.record, self.farm_name):
                self._collect(entry, day)

    def _rolled(self, rolled: Sequence[Entry]) -> list[Rolling]:
        """The rollings of a day; those of one block share its latex by their counts."""
        groups: dict[str | None, list[Entry]] = {}
        for entry in rolled:
            groups.setdefault(entry.record.block, []).append(entry)
        rollings = {}
        for block, group in groups.items():
            used = self._latex_for(_day(group[0]), block)
            whole = sum(entry.record.count or 0 for entry in group)
            for entry in group:
                count = entry.record.count or 0
                rollings[entry.id] = Rolling(entry, count, tuple(Part(each, count / whole) for each in used))
        return [rollings[entry.id] for entry in rolled]

    def _latex_for(self, day: date, block: str | None) -> list[Entry]:
        """The latex that a rolling is made of, which no later one can use."""
        waiting = [each for each in self.latex if block in (None, each.record.block)]
        used = [each for each in waiting if each.record.day != day] or waiting
        ids = {each.id for each in used}
        self.latex = [each for each in self.latex if each.id not in ids]
        return used

    def _weigh(self, entry: Entry, day: date) -> None:
        if not entry.record.count or not entry.record.kg:
            return
        oldest = day - timedelta(days=HANGS_DAYS)
        weighing = _weighing(
            entry, entry.record.count, self.hanging.take(entry.record.count, oldest, entry.record.block)
        )
        self.weighings.append(weighing)
        self.store.waiting.extend(weighing.sheets)

    def _collect(self, entry: Entry, day: date) -> None:
        wanted = entry.record.sheets
        if not wanted:
            return
        from_store = self.store.take(wanted, day - timedelta(days=STORED_DAYS))
        from_lines = self.hanging.take(wanted - _count(from_store), day - timedelta(days=HANGS_DAYS))
        take = _weighing(entry, wanted, from_store + from_lines)
        self.taken.append(take)
        if from_lines and not from_store and entry.record.kg:
            self.weighings.append(take)


def _weighing(entry: Entry, wanted: int, sheets: tuple[Sheets, ...]) -> Weighing:
    return Weighing(entry, entry.record.kg or Decimal(0), sheets, wanted - _count(sheets))


def _count(sheets: Sequence[Sheets]) -> int:
    return sum(each.count for each in sheets)
