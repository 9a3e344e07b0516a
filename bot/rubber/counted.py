"""Sheets rolled against sheets weighed: whether some are missing each time, from counts alone.

The sheets of a weighing were rolled so many days before, as long as a farm lets them dry. So each weighing is held against what was
rolled in the days between the one before it and itself, moved by that time: the time is the one with which the counts of this
farm fit best. What is left over is mostly nothing, now and then a sheet miscounted, and seldom a whole rolling that nobody texted.
Sheets that vanish are some more each time.

How unusual. The sum of what is left over in some days, over what such sums come to by this farm's own scatter before them (its
root mean square times the root of the number of weighings, as if one did not make up for the next). What lies far off counts only
up to a limit: one text that is missing is no pattern.
"""

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate, pairwise
from statistics import fmean, median

from bot.rubber.robust import deviation, within

#: Sheets come to the scale so many days after their rolling at most. Common practice, no source.
LONGEST_DAYS = 40

#: Weighings needed before the days in question, and in them.
ENOUGH_BEFORE, ENOUGH = 6, 4

#: What is left over counts up to so many standard deviations, or this share of a usual weighing, or so many sheets.
CALM, SHARE, SHEETS = 2.0, 0.04, 2.0

#: Counts waver by at least so many sheets a weighing. Common practice, no source.
LEAST = 0.5

Counts = Sequence[tuple[date, int]]
"""Days with sheets counted on them."""


@dataclass(frozen=True)
class Left:
    """Sheets that are left over in some days (below 0: more were weighed than rolled), and how unusual that is."""

    sheets: float
    deviations: float


def left_over(rolled: Counts, weighed: Counts, first: date, last: date) -> Left | None:
    """What is left over in the weighings of the days from `first` to `last`; None where too little was weighed to say."""
    on_scale = by_day([each for each in weighed if each[0] <= last])
    hung = Hung(rolled)
    before = [each for each in on_scale if each[0] < first]
    if len(before) <= ENOUGH_BEFORE or len(on_scale) - len(before) < ENOUGH:
        return None
    lag = hung.lag(before)
    was = hung.left(before, lag)
    most = max(CALM * deviation(was), SHARE * median(count for _, count in before), SHEETS)
    wavers = max(LEAST, math.sqrt(fmean(within(each, most) ** 2 for each in was)))
    since = hung.left(on_scale, lag)[len(was) :]
    found = sum(within(each, most) for each in since)
    return Left(found, found / wavers / math.sqrt(len(since)))


def by_day(counts: Counts) -> list[tuple[date, int]]:
    """One sum for each day, in their order."""
    found: dict[date, int] = {}
    for day, count in counts:
        found[day] = found.get(day, 0) + count
    return sorted(found.items())


class Hung:
    """Sheets rolled up to each day."""

    def __init__(self, rolled: Counts) -> None:
        ordered = by_day(rolled)
        self._days = [day for day, _ in ordered]
        self._sums = [0, *accumulate(count for _, count in ordered)]

    def lag(self, weighed: Counts, among: Iterable[int] = range(LONGEST_DAYS + 1)) -> int:
        """Days from rolling to the scale: those among which the counts of two weighings or more fit best."""
        return min(among, key=lambda days: self.misfit(weighed, days))

    def misfit(self, weighed: Counts, lag: int) -> float:
        """Sheets by which a weighing is off, in the mean; what is off by a whole weighing is not worse than that."""
        usual = median(count for _, count in weighed)
        return fmean(min(abs(each), usual) for each in self.left(weighed, lag))

    def left(self, weighed: Counts, lag: int) -> list[float]:
        """For each weighing but the first what was rolled since the one before it, so many days earlier, less what it weighed."""
        late = timedelta(days=lag)
        sums = [self._sums[bisect_right(self._days, day - late)] for day, _ in weighed]
        return [float(now - was - count) for (was, now), (_, count) in zip(pairwise(sums), weighed[1:], strict=True)]
