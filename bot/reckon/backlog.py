"""Sheets that were rolled and never came to the scale, from counts alone.

Followed first in, first out, a sheet that is lost does not stay behind: the next one is counted in its place, and what is
missing piles up among the newest sheets. So what hangs after each weighing is held against what should hang there: all that was
rolled in the time that this farm lets its sheets dry. The difference wavers a little; what it has grown by in some days, against
how it wavered before them, are the sheets that are missing. That shows many sheets gone at once. A few gone each time show sooner
from each weighing against its own rolling (`bot.rubber.counted`): the more unusual of the two is told.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from statistics import median

from bot.reckon.chain import Chain, Weighing
from bot.rubber.counted import Counts, Hung, Left, by_day, left_over
from bot.rubber.drying import Method, ready
from bot.rubber.robust import deviation

#: Sheets may wait so many days after they are dry before it is asked where they are. Common practice, no source.
WAIT_DAYS = 7

#: Weighings before the days in question from which it is known what is usual.
ENOUGH = 5

#: What hangs wavers by at least this share of a usual rolling. Common practice, no source.
LEAST = 0.25


@dataclass(frozen=True)
class Missing:
    """Sheets rolled in some days, those of them that are missing, and how unusual that is (None: only counted)."""

    rolled: int
    missing: float
    deviations: float | None


def missing(chain: Chain, method: Method, first: date, last: date) -> Missing:
    """The sheets of the days from `first` to `last` that are missing: long dry and still not weighed, or piled up since."""
    rolled = sum(each.count for each in chain.rollings if first <= each.day <= last)
    late = sum(
        each.count
        for each in (*chain.gone, *chain.hanging)
        if first <= each.rolling.day and ready(each.rolling.day, method).latest + timedelta(days=WAIT_DAYS) <= last
    )
    rolled_on, weighed_on = _counts(chain, last)
    ways = (_at_once(rolled_on, weighed_on, first), left_over(rolled_on, weighed_on, first, last))
    found = max((each for each in ways if each is not None), key=lambda each: each.deviations, default=None)
    if found is None or late >= found.sheets:
        return Missing(rolled, float(late), None if late or found is None else found.deviations)
    return Missing(rolled, found.sheets, found.deviations)


def _counts(chain: Chain, last: date) -> tuple[Counts, Counts]:
    """Sheets rolled, and weighed up to a day, by days."""
    rolled = [(each.day, each.count) for each in chain.rollings]
    weighed = [(_day(each), sum(sheets.count for sheets in each.sheets) + each.unknown) for each in chain.weighings]
    return by_day(rolled), by_day([each for each in weighed if each[0] <= last])


def _day(weighing: Weighing) -> date:
    assert weighing.entry.record.day is not None
    return weighing.entry.record.day


def _at_once(rolled: Counts, weighed: Counts, first: date) -> Left | None:
    """By how many sheets what hangs has grown beyond the usual."""
    before = [each for each in weighed if each[0] < first]
    if len(before) <= ENOUGH or len(before) == len(weighed):
        return None
    hung = Hung(rolled)
    piled = list(accumulate(hung.left(weighed, hung.lag(before))))
    usual = piled[: len(before) - 1]
    middle = median(usual)
    least = LEAST * median(count for _, count in rolled)
    wavers = max(deviation(each - middle for each in usual), least, 1.0)
    grown = piled[-1] - usual[-1]
    return Left(grown, grown / wavers)
