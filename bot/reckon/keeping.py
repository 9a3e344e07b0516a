"""Milestones in the books: reached once a week, gone on from, and read back with what stands after them.

At the end of each week, some days later, what a farm's lines taught is kept; a line about an earlier day takes it out again
in its own transaction (`entries.enter`), and the milestone before is gone on from.
"""

import hashlib
import json
from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bot.books import Transaction, entries, farms
from bot.books import learned as shelf
from bot.books.learned import Kept
from bot.books.model import Entry, Farm
from bot.reckon.milestones import METHOD, ONE_DAY, ChainText, Milestone, beginning, chain_written, day_of, reached
from bot.reckon.teaching import Lessons, stimulations
from bot.rubber import written
from bot.rubber.filtering import Learned
from bot.rubber.reference import REFERENCE_VERSION, value
from parsers.reading import What

#: Corrections mostly come within so many days; then a week is kept.
SETTLE_DAYS = 7

#: Weeks are kept for so many days, ends of months for good: looking back, or correcting an old line, costs a month more.
WEEKS_KEPT = timedelta(days=21)


@dataclass(frozen=True)
class Ground:
    """What a farm's lessons hang on besides its lines: its name, the DRC that it starts from, usual litres by block."""

    farm: Farm
    usual_litres: Mapping[str, float]

    @property
    def usual_percent(self) -> float:
        """The farm's setting of the DRC."""
        return float(self.farm.settings.drc_percent)

    @property
    def basis(self) -> str:
        """A short name of all that; another basis, other lessons."""
        about = [METHOD, REFERENCE_VERSION, self.farm.name, self.usual_percent, sorted(self.usual_litres.items())]
        return hashlib.blake2b(json.dumps(about).encode(), digest_size=12).hexdigest()

    @property
    def beginning(self) -> Milestone:
        """Before the first line."""
        return beginning(self.usual_percent, self.usual_litres)


def ground(tx: Transaction, farm: Farm) -> Ground:
    """What the lessons of a farm hang on now."""
    blocks = farms.blocks(tx, farm.id).items()
    return Ground(farm, {name: float(block.usual_litres) for name, block in blocks if block.usual_litres})


def newest(tx: Transaction, on: Ground, week: date) -> tuple[Milestone, Sequence[Entry]]:
    """The newest milestone, at the end of a week (`week_end`) or later, reached now if it was not before, and what stands after it."""
    kept = shelf.newest(tx, on.farm.id)
    if kept is not None and _serves(kept, on, week):
        return _read_back(tx, on, kept)
    return _go_on(tx, on, kept, week)


def before(tx: Transaction, on: Ground, day: date, last: date) -> tuple[Milestone, Sequence[Entry]]:
    """The newest milestone of the days before one, and what stands after it up to the end of `last`.

    Where it is asked about days that are just over, the milestone before them is reached now if it was not before.
    """
    newest_kept = shelf.newest(tx, on.farm.id)
    if newest_kept is None or not _serves(newest_kept, on, week_end(last)):
        milestone, later = _go_on(tx, on, newest_kept, week_end(last))
        if milestone.through < day:
            return milestone, [each for each in later if day_of(each) <= last]
    kept = shelf.newest(tx, on.farm.id, before=day)
    return (
        (on.beginning, entries.standing(tx, on.farm.id, last=last)) if kept is None else _read_back(tx, on, kept, last)
    )


def stimulated(tx: Transaction, on: Ground, learned: Learned, first: date) -> Lessons:
    """Lessons with the stimulations that still act on the latex of a day or later."""
    acts = timedelta(days=int(value("estimate_stimulation_days")))
    since = first - acts if first > date.min + acts else date.min
    found = entries.standing(tx, on.farm.id, first=since, what=What.STIMULATED)
    return Lessons(learned, stimulations(found), on.usual_percent)


def _serves(kept: Kept, on: Ground, week: date) -> bool:
    return kept.basis == on.basis and kept.through >= week


def week_end(today: date) -> date:
    """The last Sunday that is SETTLE_DAYS or more ago."""
    day = today - timedelta(days=SETTLE_DAYS)
    return day - timedelta(days=(day.weekday() + 1) % 7)


def _month_end(day: date) -> date:
    """The last day of the month that holds the day."""
    return day.replace(day=monthrange(day.year, day.month)[1])


def _go_on(tx: Transaction, on: Ground, kept: Kept | None, wanted: date) -> tuple[Milestone, Sequence[Entry]]:
    """From what is kept to the wanted day, month by month, so that long books do not fill the memory."""
    farm_id = on.farm.id
    first = None if kept is not None else entries.first_day_after(tx, farm_id, date.min)
    if kept is None and (first is None or first > wanted):
        return on.beginning, entries.standing(tx, farm_id)
    shelf.hold(tx, farm_id)
    kept = shelf.newest(tx, farm_id)  # somebody else may have gone on, or entered a line, before the farm was held
    if kept is not None and kept.basis != on.basis:
        shelf.drop(tx, farm_id)
        kept = None
    milestone = on.beginning if kept is None else _read_back(tx, on, kept, kept.through)[0]
    while milestone.through < wanted:
        following = entries.first_day_after(tx, farm_id, milestone.through)
        through = wanted if following is None else min(wanted, _month_end(following))
        between = entries.standing(tx, farm_id, first=milestone.through + ONE_DAY, last=through)
        known = stimulated(tx, on, milestone.rubber, milestone.first_needed)
        milestone = reached(milestone, known, between, on.farm.name, through)
        shelf.keep(tx, farm_id, _written(milestone, on.basis), lasting=through == _month_end(through))
    shelf.thin(tx, farm_id, wanted - WEEKS_KEPT)
    return milestone, entries.standing(tx, farm_id, first=milestone.through + ONE_DAY)


def _written(milestone: Milestone, basis: str) -> Kept:
    rubber, litres = written.written(milestone.rubber), written.written(milestone.litres)
    return Kept(milestone.through, basis, chain_written(milestone), rubber, litres)


def _read_back(tx: Transaction, on: Ground, kept: Kept, last: date = date.max) -> tuple[Milestone, Sequence[Entry]]:
    """A milestone as it was kept, from the lines that its chain names, and what stands after it up to the end of `last`."""
    start, chain = on.beginning, ChainText.of(kept.chain)
    found = entries.standing(tx, on.farm.id, first=chain.needed, last=last)
    needed = [each for each in found if day_of(each) <= kept.through]
    if chain.rolled is not None and chain.rolled < chain.needed:
        kind = What.SHEETS_ROLLED
        needed += entries.standing(tx, on.farm.id, first=chain.rolled, last=kept.through, what=kind)
    milestone = Milestone(
        kept.through,
        chain.stand(needed),
        chain.waiting(),
        written.read(kept.rubber, start.rubber),
        written.read(kept.litres, start.litres),
    )
    return milestone, [each for each in found if day_of(each) > kept.through]
