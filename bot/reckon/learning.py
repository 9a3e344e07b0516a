"""What a farm's book has taught so far, read from the books without reading all of them each time (`keeping`).

What is learned is that of all that stands (`teaching.taught_by`), to the last bit.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.reckon.chain import Chain, follow
from bot.reckon.keeping import before, ground, newest, stimulated, week_end
from bot.reckon.milestones import day_of, events_after
from bot.reckon.teaching import (
    Lessons,
    latex_of,
    litres_after,
    litres_learned,
    taught,
    taught_by,
    wet_sheets,
)
from bot.rubber.filtering import Learned

__all__ = [
    "Lessons",
    "Then",
    "Without",
    "chain_of",
    "known_then",
    "latex_of",
    "lessons",
    "litres_learned",
    "nothing",
    "taught_by",
    "wet_sheets",
]

#: Whoever asks for what is known on a day looks at the latex of so many days before it at most.
LOOKED_BACK = timedelta(days=120)

#: Farms whose lessons are kept in memory, each of some ten kilobytes.
FARMS_KEPT = 512


def lessons(tx: Transaction, farm: Farm, today: date) -> Lessons:
    """What the book of a farm has taught, for one who looks at the days before `today`.

    Worked out anew only when something was entered that teaches, or another week is over.
    """
    mark = entries.lesson(tx, farm.id)
    key = (farm.id, mark, float(farm.settings.drc_percent), week_end(today))
    if key in _memory:
        return _memory[key]
    if not mark:  # nothing was ever entered
        return taught_by((), farm.name, float(farm.settings.drc_percent))
    return _keep(key, _lessons(tx, farm, key[-1]))


_Key = tuple[str, str, float, date]
_memory: dict[_Key, Lessons] = {}


def _keep(key: _Key, found: Lessons) -> Lessons:
    """Keep the newest lessons; a mark is never used twice, so that what is kept is never out of date."""
    while len(_memory) >= FARMS_KEPT:
        _memory.pop(next(iter(_memory)), None)
    _memory[key] = found
    return found


def _lessons(tx: Transaction, farm: Farm, week: date) -> Lessons:
    """For every day whose newest milestone is the end of that week."""
    on = ground(tx, farm)
    start, later = newest(tx, on, week)
    known = stimulated(tx, on, start.rubber, min(start.first_needed, week - LOOKED_BACK))
    events, _ = events_after(start, known, later, farm.name)
    return taught(known, events)


@dataclass(frozen=True)
class Then:
    """What was known of some days at their end: the lessons with theirs, the litres that were to be expected of them, and
    the chain, with some weighings from before them too; and what stands of them.
    """

    lessons: Lessons
    litres: Learned
    chain: Chain
    lines: tuple[Entry, ...]


def known_then(tx: Transaction, farm: Farm, first: date, last: date) -> Then:
    """What was known at the end of the days from `first` to `last`, from what stands now of these days and before."""
    on = ground(tx, farm)
    start, later = before(tx, on, first, last)
    known = stimulated(tx, on, start.rubber, start.first_needed)
    events, chain = events_after(start, known, later, farm.name)
    earlier = [each for each in later if day_of(each) < first]
    lines = tuple(each for each in later if day_of(each) >= first)
    return Then(taught(known, events), litres_after(start.litres, known, earlier), _left(chain, last), lines)


Without = Callable[[Entry], bool]
"""Whether a line is left out, where it is asked how things stood before it."""


def nothing(_line: Entry) -> bool:
    """Nothing is left out."""
    return False


def chain_of(tx: Transaction, farm: Farm, first: date, last: date, *, without: Without = nothing) -> Chain:
    """What became of sheets: weighings and takes from `first` to `last` and some before, and where sheets are in the end.

    Lines of these days may be left out.
    """
    start, later = before(tx, ground(tx, farm), first, last)
    told = [each for each in later if not without(each)]
    return _left(follow(told, farm.name, start.stand), last)


def _left(chain: Chain, last: date) -> Chain:
    """The chain without sheets that are taken for gone by the end of a day."""
    left = chain.stand.after(last)
    return replace(chain, hanging=left.hanging, in_store=left.in_store, unrolled=left.latex)
