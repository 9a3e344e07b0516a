"""What a farm's book has taught so far, read from the books without reading all of them each time.

At the end of each week, some days later, what was learned is kept in the books (`milestones`); an entry that changes an
earlier day takes it out again, and the one before is gone on from. What is learned is that of all that stands
(`teaching.taught_by`), to the last bit, whatever is kept.
"""

import hashlib
import json
from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from bot.books import Transaction, entries, farms
from bot.books import learned as shelf
from bot.books.model import Entry, Farm
from bot.reckon.milestones import (
    METHOD,
    ONE_DAY,
    ChainText,
    Milestone,
    beginning,
    chain_written,
    day_of,
    events_after,
    reached,
)
from bot.reckon.teaching import (
    Lessons,
    latex_of,
    litres_after,
    litres_learned,
    stimulations,
    taught,
    taught_by,
    wet_sheets,
)
from bot.rubber import levels, written
from bot.rubber.filtering import Learned
from bot.rubber.reference import REFERENCE_VERSION, value
from parsers.reading import What

__all__ = [
    "Lessons",
    "latex_of",
    "lessons",
    "litres_before",
    "litres_learned",
    "taught_by",
    "wet_sheets",
]

#: Corrections mostly come within so many days; then a week is kept.
SETTLE_DAYS = 7

#: Weeks are kept for so many days, ends of quarters for good, so that a late correction costs a part of a year at most.
WEEKS_KEPT = timedelta(days=21)

#: Whoever asks for what is known on a day looks at the latex of so many days before it at most.
LOOKED_BACK = timedelta(days=120)

#: Farms whose lessons are kept in memory, each of some ten kilobytes.
FARMS_KEPT = 512


@dataclass(frozen=True)
class _Ground:
    """What a farm's lessons hang on besides its lines."""

    farm: Farm
    usual_percent: float
    usual_litres: Mapping[str, float]

    @property
    def basis(self) -> str:
        """A short name of all that; another basis, other lessons."""
        about = [METHOD, REFERENCE_VERSION, self.farm.name, self.usual_percent, sorted(self.usual_litres.items())]
        return hashlib.blake2b(json.dumps(about).encode(), digest_size=12).hexdigest()


def _ground(tx: Transaction, farm: Farm) -> _Ground:
    usual = {name: float(block.usual_litres) for name, block in farms.blocks(tx, farm.id).items() if block.usual_litres}
    return _Ground(farm, float(farm.settings.drc_percent), usual)


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
    return _keep(key, _lessons(tx, _ground(tx, farm), today))


_Key = tuple[str, str, float, date]
_memory: dict[_Key, Lessons] = {}


def _keep(key: _Key, found: Lessons) -> Lessons:
    """Keep the newest lessons; a mark is never used twice, so that what is kept is never out of date."""
    while len(_memory) >= FARMS_KEPT:
        _memory.pop(next(iter(_memory)), None)
    _memory[key] = found
    return found


def _lessons(tx: Transaction, ground: _Ground, today: date) -> Lessons:
    start, later = _newest(tx, ground, today)
    known = _known(tx, ground, start.rubber, min(start.first_needed, today - LOOKED_BACK))
    return taught(known, events_after(start, known, later, ground.farm.name))


def litres_before(tx: Transaction, farm: Farm, day: date) -> Learned:
    """What all latex of the days before one taught about the litres that a block brings."""
    ground = _ground(tx, farm)
    kept = shelf.newest(tx, farm.id, before=day)
    if kept is not None and kept.basis != ground.basis:
        _newest(tx, ground, day)  # puts right what was learned on other grounds
        kept = shelf.newest(tx, farm.id, before=day)
    start = levels.prior_litres(ground.usual_litres)
    if kept is not None:
        start = written.read(kept.litres, start)
    first = date.min if kept is None else kept.through + ONE_DAY
    if first >= day:
        return start
    later = entries.standing(tx, farm.id, first=first, last=day - ONE_DAY, what=What.LATEX)
    return litres_after(start, _known(tx, ground, start, first), later)


def _known(tx: Transaction, ground: _Ground, learned: Learned, first: date) -> Lessons:
    """The lessons so far, with the stimulations that still act on the latex of a day or later."""
    acts = timedelta(days=int(value("estimate_stimulation_days")))
    since = first - acts if first > date.min + acts else date.min
    found = entries.standing(tx, ground.farm.id, first=since, what=What.STIMULATED)
    return Lessons(learned, stimulations(found), ground.usual_percent)


def _newest(tx: Transaction, ground: _Ground, today: date) -> tuple[Milestone, list[Entry]]:
    """The newest milestone, reached now if it was not before, and what stands after it."""
    wanted, kept = _week_end(today), shelf.newest(tx, ground.farm.id)
    if kept is not None and kept.basis == ground.basis and kept.through >= wanted:
        return _read_back(tx, ground, kept)
    young = kept is None and not _any_between(tx, ground, date.min, wanted)
    milestone = _beginning(ground) if young else _go_on(tx, ground, wanted)
    return milestone, entries.standing(tx, ground.farm.id, first=milestone.through + ONE_DAY)


def _any_between(tx: Transaction, ground: _Ground, after: date, until: date) -> bool:
    following = entries.first_day_after(tx, ground.farm.id, after)
    return following is not None and following <= until


def _week_end(today: date) -> date:
    """The last Sunday that is SETTLE_DAYS or more ago."""
    day = today - timedelta(days=SETTLE_DAYS)
    return day - timedelta(days=(day.weekday() + 1) % 7)


def _quarter_end(day: date) -> date:
    """The last day of the quarter of the year that holds the day."""
    month = (day.month + 2) // 3 * 3
    return date(day.year, month, monthrange(day.year, month)[1])


def _go_on(tx: Transaction, ground: _Ground, wanted: date) -> Milestone:
    """From the newest milestone to the wanted one, quarter by quarter, so that long books do not fill the memory."""
    farm_id = ground.farm.id
    shelf.hold(tx, farm_id)
    kept = shelf.newest(tx, farm_id)
    if kept is not None and kept.basis != ground.basis:
        shelf.drop(tx, farm_id)
        kept = None
    milestone = _beginning(ground) if kept is None else _read_back(tx, ground, kept)[0]
    while milestone.through < wanted:
        following = entries.first_day_after(tx, farm_id, milestone.through)
        through = wanted if following is None else min(wanted, _quarter_end(following))
        milestone = _step(tx, ground, milestone, through)
        shelf.keep(tx, farm_id, _written(milestone, ground.basis), lasting=through == _quarter_end(through))
    shelf.thin(tx, farm_id, wanted - WEEKS_KEPT)
    return milestone


def _step(tx: Transaction, ground: _Ground, start: Milestone, through: date) -> Milestone:
    """What the lines up to the end of a later day teach."""
    later = entries.standing(tx, ground.farm.id, first=start.through + ONE_DAY, last=through)
    known = _known(tx, ground, start.rubber, start.first_needed)
    return reached(start, known, later, ground.farm.name, through)


def _beginning(ground: _Ground) -> Milestone:
    return beginning(ground.usual_percent, ground.usual_litres)


def _written(milestone: Milestone, basis: str) -> shelf.Kept:
    rubber, litres = written.written(milestone.rubber), written.written(milestone.litres)
    return shelf.Kept(milestone.through, basis, chain_written(milestone), rubber, litres)


def _read_back(tx: Transaction, ground: _Ground, kept: shelf.Kept) -> tuple[Milestone, list[Entry]]:
    """A milestone as it was kept, and what stands after it."""
    start, chain = _beginning(ground), ChainText.of(kept.chain)
    found = entries.standing(tx, ground.farm.id, first=chain.needed)
    needed = [each for each in found if day_of(each) <= kept.through]
    if chain.rolled is not None and chain.rolled < chain.needed:
        kind = What.SHEETS_ROLLED
        needed += entries.standing(tx, ground.farm.id, first=chain.rolled, last=kept.through, what=kind)
    milestone = Milestone(
        kept.through,
        chain.stand(needed),
        chain.waiting(),
        written.read(kept.rubber, start.rubber),
        written.read(kept.litres, start.litres),
    )
    return milestone, [each for each in found if day_of(each) > kept.through]
