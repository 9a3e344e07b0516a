"""What is unusual of late, since whenever it began: the days up to one are looked at from several beginnings.

A bucket that was changed three weeks ago is a third as large a gap in the last nine weeks as it is, and the estimate has begun to
get used to it. So each kind of gap is looked for from several beginnings on, and told from the one on from which it is most unusual:
a change point model (the statistic of every split of a series, the largest against a limit that is made for the largest; read of in
the documentation of the package cpm for R, which follows Hawkins and others 2003 and G. J. Ross, J. Stat. Software 66(3), 2015; these
were not read).

Several beginnings give chance several throws. The limits are the farm's own and what stands in `BEYOND`, found by simulated farms without a
gap (`tests/benchmarks/gaps.py`, whose figures stand in DEVELOPERS.md) and not by theory.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from bot.reckon.gaps import Days, Row, Weights, by_key, finished, rolled, taken, weighed
from bot.reckon.weighed import By
from bot.reckon.wording import later

#: The days of each look back that is shorter than the days in question.
SPANS = (14, 21, 28, 35, 45)

#: So many standard deviations beyond the farm's own limit are asked for. Blocks are many, and their latex does change.
BEYOND: Mapping[By, float] = {By.BLOCK: 1.0, By.BALANCE: 1.0, By.COLLECTOR: 1.0}

#: The same for sheets that are counted.
BEYOND_COUNTED = 0.5


def steps_lately(seen: Weights) -> list[Row]:
    """The steps from latex to what was taken."""
    return [rolled(seen), finished_lately(seen), weighed(*by_key_lately(seen, By.FARM)), taken(seen)]


def by_key_lately(seen: Weights, by: By) -> list[Row]:
    """What lies with each key up to the last day. Rows that are told count from when it began (`since`), the others from the first
    day on."""
    ways = {since: by_key(replace(seen, first=since), by, beyond=BEYOND.get(by, 0.0)) for since in beginnings(seen)}
    since = max(ways, key=lambda day: _strongest(_told(ways[day])))
    told = _told(ways[since])
    named = {row.key for row in told}
    plain = (replace(row, told=False, question="") for row in ways[seen.first] if row.key not in named)
    return [*(began(row, since) for row in told), *plain]


def finished_lately(seen: Weights) -> Row:
    """Rolled sheets that came to no scale: from the first day on, or since it began where that is more unusual."""
    ways = {since: finished(replace(seen, first=since), beyond=BEYOND_COUNTED) for since in beginnings(seen)}
    since = max(ways, key=lambda day: _strongest(_told([ways[day]])))
    found = ways[since]
    return began(found, since) if found.told and found.deviations is not None else ways[seen.first]


def beginnings(days: Days) -> list[date]:
    """The first day of each look back, the longest first."""
    shorter = (days.last - timedelta(days=span - 1) for span in sorted(SPANS, reverse=True))
    return [days.first, *(day for day in shorter if day > days.first)]


def began(row: Row, since: date) -> Row:
    """The row with the day since which it is so."""
    return replace(row, since=since, question=later("Since about {day}: {question}", day=since, question=row.question))


def _strongest(rows: Iterable[Row]) -> float:
    """How unusual the most unusual is."""
    return max((abs(row.deviations or 0.0) for row in rows), default=0.0)


def _told(rows: Sequence[Row]) -> list[Row]:
    return [row for row in rows if row.told]
