"""Which rollings a weighing is of, where the counts themselves say so.

First in, first out goes wrong for good where a text about a rolling is missing: each weighing is then counted to the latex of other
days. But where sheets come to the scale so many days after their rolling, their counts fit: 22 rolled on Monday, 22 weighed on the
next. A weighing whose count fits what was rolled since the one before it, moved by that time (`bot.rubber.counted`), is of just
these rollings; one that does not fit tells nothing. Where hardly any fit, the farm weighs otherwise, and first in, first out stands.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

from bot.reckon.chain import Chain, Rolling, Sheets, Weighing
from bot.rubber.counted import Counts, Hung, by_day

#: The time from rolling to the scale changes with the weather: it is found for so many weighing days at a time. It is off what is
#: usual in the whole book by so many days at most, and only where the counts then fit so much better.
STRETCH, APART_DAYS, BETTER = 15, 4, 0.5

#: This share of a stretch has to fit.
MOSTLY = 0.6

#: More were weighed than rolled by this share, or so many sheets: still the same; fewer: some are gone.
MORE, MORE_SHEETS = 0.05, 1.0
FEWER, FEWER_SHEETS = 0.15, 3.0


def aligned(chain: Chain) -> tuple[Weighing, ...]:
    """The weighings of a chain, each of the rollings whose counts it fits; those that do not fit where most do are left out."""
    hung = Hung([(each.day, each.count) for each in chain.rollings])
    weighings = sorted(chain.weighings, key=_day)
    counts = by_day([(_day(each), _count(each)) for each in weighings])
    on_day: dict[date, list[Weighing]] = {}
    for each in weighings:
        on_day.setdefault(_day(each), []).append(each)
    if len(counts) < 2:
        return tuple(weighings)
    usual = hung.lag(counts)
    found = list(on_day[counts[0][0]])
    for start in range(0, len(counts) - 1, STRETCH):
        some = counts[start : start + STRETCH + 1]
        found += _stretch(chain, hung, some, on_day, _lag(hung, some, usual))
    return tuple(found)


def _lag(hung: Hung, some: Counts, usual: int) -> int:
    """The time from rolling to the scale in some days."""
    found = hung.lag(some, range(max(0, usual - APART_DAYS), usual + APART_DAYS + 1))
    return found if hung.misfit(some, found) < BETTER * hung.misfit(some, usual) else usual


def _stretch(
    chain: Chain, hung: Hung, counts: Counts, on_day: dict[date, list[Weighing]], lag: int
) -> Iterator[Weighing]:
    """The weighings of some days but the first, which only says where the next begins."""
    fit = [_fits(left, count) for left, (_, count) in zip(hung.left(counts, lag), counts[1:], strict=True)]
    if sum(fit) < MOSTLY * len(fit):
        for day, _ in counts[1:]:
            yield from on_day[day]
        return
    late = timedelta(days=lag)
    for ((before, _), (day, _)), fits in zip(pairwise(counts), fit, strict=True):
        if fits and len(on_day[day]) == 1:
            own = [each for each in chain.rollings if before - late < each.day <= day - late]
            yield replace(on_day[day][0], sheets=_sheets(own, _count(on_day[day][0])), unknown=0)


def _fits(left: float, count: int) -> bool:
    return -max(MORE_SHEETS, MORE * count) <= left <= max(FEWER_SHEETS, FEWER * count)


def _sheets(rollings: Sequence[Rolling], count: int) -> tuple[Sheets, ...]:
    """So many sheets of some rollings, the oldest first."""
    found = []
    for each in rollings:
        now = min(each.count, count)
        count -= now
        if now:
            found.append(Sheets(each, now))
    return tuple(found)


def _count(weighing: Weighing) -> int:
    return sum(each.count for each in weighing.sheets) + weighing.unknown


def _day(weighing: Weighing) -> date:
    assert weighing.entry.record.day is not None
    return weighing.entry.record.day
