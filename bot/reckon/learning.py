"""What a farm's book has taught so far, read from the books without reading all of them each time (`keeping`).

What is learned is that of all that stands (`teaching.taught_by`), to the last bit.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from bot.books import Transaction, entries
from bot.books.model import Farm
from bot.reckon.chain import Chain, follow
from bot.reckon.keeping import before, chain_before, ground, newest, stimulated
from bot.reckon.milestones import ONE_DAY, day_of, events_after
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
    "lessons_and_chain",
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
    return _work_out(tx, farm, key).lessons


@dataclass(frozen=True)
class _WorkedOut:
    """Lessons and the chain of the days after the milestone that they were gone on from."""

    lessons: Lessons
    chain: Chain
    through: date
    last: date


_Key = tuple[str, str, float, date]
_memory: dict[_Key, Lessons] = {}


def _keep(key: _Key, found: Lessons) -> Lessons:
    """Keep the newest lessons; a mark is never used twice, so that what is kept is never out of date."""
    while len(_memory) >= FARMS_KEPT:
        _memory.pop(next(iter(_memory)), None)
    _memory[key] = found
    return found


def _work_out(tx: Transaction, farm: Farm, key: _Key) -> _WorkedOut:
    on, today = ground(tx, farm), key[-1]
    start, later = newest(tx, on, today)
    known = stimulated(tx, on, start.rubber, min(start.first_needed, today - LOOKED_BACK))
    events, chain = events_after(start, known, later, farm.name)
    last = max(map(day_of, later), default=start.through)
    return _WorkedOut(_keep(key, taught(known, events)), chain, start.through, last)


def lessons_and_chain(tx: Transaction, farm: Farm, since: date, last: date) -> tuple[Lessons, Chain]:
    """What `lessons` and `chain_of` give, for less than the two."""
    mark = entries.lesson(tx, farm.id)
    if not mark:
        return lessons(tx, farm, last), chain_of(tx, farm, since, last)
    found = _work_out(tx, farm, (farm.id, mark, float(farm.settings.drc_percent), last))
    fits = found.through < since and found.last <= last
    return found.lessons, _left(found.chain, last) if fits else chain_of(tx, farm, since, last)


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
    return _left(follow(later, farm.name, start), last)


def _left(chain: Chain, last: date) -> Chain:
    """The chain without sheets that are taken for gone by the end of a day."""
    left = chain.stand.after(last)
    return replace(chain, hanging=left.hanging, in_store=left.in_store, unrolled=left.latex)
