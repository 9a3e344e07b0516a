"""Sheets that were rolled and never came to the scale, from counts alone.

Followed first in, first out, a sheet that is lost does not stay behind: the next one is counted in its place, and what is
missing piles up among the newest sheets. So what hangs after each weighing is held against what should hang there: all that was
rolled since the age at which this farm usually weighs. The difference wavers a little; what it has grown by in some days, against
how it wavered before them, are the sheets that are missing.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from statistics import median

from bot.reckon.chain import Chain, Weighing
from bot.rubber.drying import Method, ready

#: Sheets may wait so many days after they are dry before it is asked where they are. Common practice, no source.
WAIT_DAYS = 7

#: Weighings before the days in question from which it is known what is usual.
ENOUGH = 5

#: What hangs wavers by at least this share of a usual rolling. Common practice, no source.
LEAST = 0.25

#: From the median of distances to a standard deviation, for a normal distribution.
_MAD = 1.4826


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
    grown = _grown(chain, first, last)
    if grown is None or late >= grown[0]:
        return Missing(rolled, float(late), None if late or grown is None else grown[1])
    return Missing(rolled, *grown)


def _grown(chain: Chain, first: date, last: date) -> tuple[float, float] | None:
    """By how many sheets what hangs has grown beyond the usual, and that in standard deviations; None where it is not known."""
    events = [(each, _day(each)) for each in chain.weighings if each.sheets and _day(each) <= last]
    before = [each for each, day in events if day < first]
    within = [day for _, day in events if day >= first]
    if len(before) < ENOUGH or not within:
        return None
    age = round(median((_day(each) - each.sheets[-1].rolling.day).days for each in before))
    days = sorted({_day(each) for each in before})
    counts = _Counts.of(chain)
    usual = [counts.excess(day, age) for day in days]
    middle = median(usual)
    least = LEAST * median(each.count for each in chain.rollings)
    wavers = max(_MAD * median(abs(each - middle) for each in usual), least, 1.0)
    grown = counts.excess(max(within), age) - usual[-1]
    return grown, grown / wavers


def _day(weighing: Weighing) -> date:
    assert weighing.entry.record.day is not None
    return weighing.entry.record.day


@dataclass(frozen=True)
class _Counts:
    """How many sheets were rolled and weighed up to the end of each day on which any were."""

    rolled: tuple[list[date], list[int]]
    weighed: tuple[list[date], list[int]]

    @classmethod
    def of(cls, chain: Chain) -> "_Counts":
        rolled = [(each.day, each.count) for each in chain.rollings]
        weighed = [(_day(each), sum(sheets.count for sheets in each.sheets)) for each in chain.weighings]
        return cls(_piled(rolled), _piled(weighed))

    def excess(self, day: date, age: int) -> float:
        """How many more sheets hang at the end of a day than were rolled within so many days before it."""
        return float(_until(self.rolled, day - timedelta(days=age)) - _until(self.weighed, day))


def _piled(counts: Sequence[tuple[date, int]]) -> tuple[list[date], list[int]]:
    """Days in their order, and the sum of the counts up to each."""
    ordered = sorted(counts)
    return [day for day, _ in ordered], list(accumulate(count for _, count in ordered))


def _until(piled: tuple[list[date], list[int]], day: date) -> int:
    days, sums = piled
    at = bisect_right(days, day)
    return sums[at - 1] if at else 0
