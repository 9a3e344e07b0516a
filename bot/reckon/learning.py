"""What a farm's book has taught so far, read from the books without reading all of them each time (`keeping`).

What is learned is that of all that stands (`teaching.taught_by`), to the last bit.
"""

from dataclasses import replace
from datetime import date, timedelta

from bot.books import Transaction, entries
from bot.books.model import Farm
from bot.reckon.chain import Chain, follow
from bot.reckon.keeping import before, chain_before, ground, newest, stimulated
from bot.reckon.milestones import ONE_DAY, events_after
from bot.reckon.teaching import (
    Lessons,
    latex_of,
    litres_after,
    litres_learned,
    taught,
    taught_by,
    wet_sheets,
)
from bot.rubber import levels, written
from bot.rubber.filtering import Learned
from parsers.reading import What

__all__ = [
    "Lessons",
    "chain_of",
    "latex_of",
    "lessons",
    "litres_before",
    "litres_learned",
    "taught_by",
    "wet_sheets",
]

#: Whoever asks for what is known on a day looks at the latex of so many days before it at most.
LOOKED_BACK = timedelta(days=120)

#: Farms whose lessons are kept in memory, each of some ten kilobytes.
FARMS_KEPT = 512


def lessons(tx: Transaction, farm: Farm, today: date) -> Lessons:
    """What the book of a farm has taught, for one who looks at the days before `today`.

    Worked out anew only when something was entered that teaches.
    """
    mark = entries.lesson(tx, farm.id)
    key = (farm.id, mark, float(farm.settings.drc_percent), today)
    if key in _memory:
        return _memory[key]
    if not mark:  # nothing was ever entered
        return taught_by((), farm.name, float(farm.settings.drc_percent))
    return _keep(key, _lessons(tx, farm, today))


_Key = tuple[str, str, float, date]
_memory: dict[_Key, Lessons] = {}


def _keep(key: _Key, found: Lessons) -> Lessons:
    """Keep the newest lessons; a mark is never used twice, so that what is kept is never out of date."""
    while len(_memory) >= FARMS_KEPT:
        _memory.pop(next(iter(_memory)), None)
    _memory[key] = found
    return found


def _lessons(tx: Transaction, farm: Farm, today: date) -> Lessons:
    on = ground(tx, farm)
    start, later = newest(tx, on, today)
    known = stimulated(tx, on, start.rubber, min(start.first_needed, today - LOOKED_BACK))
    return taught(known, events_after(start, known, later, farm.name))


def litres_before(tx: Transaction, farm: Farm, day: date) -> Learned:
    """What all latex of the days before one taught about the litres that a block brings."""
    on = ground(tx, farm)
    kept = before(tx, on, day)
    start = levels.prior_litres(on.usual_litres)
    if kept is not None:
        start = written.read(kept.litres, start)
    first = date.min if kept is None else kept.through + ONE_DAY
    if first >= day:
        return start
    later = entries.standing(tx, farm.id, first=first, last=day - ONE_DAY, what=What.LATEX)
    return litres_after(start, stimulated(tx, on, start, first), later)


def chain_of(tx: Transaction, farm: Farm, since: date, last: date) -> Chain:
    """What became of sheets: weighings and takes from `since` to `last`, and where sheets are at the end of `last`.

    There may be some from before `since` too. Sheets that are taken for gone by then are left out.
    """
    start, later = chain_before(tx, ground(tx, farm), since, last)
    found = follow(later, farm.name, start)
    left = found.stand.after(last)
    return replace(found, hanging=left.hanging, in_store=left.in_store, unrolled=left.latex)
