"""All balances of many farms at once: which of them shows less or more than the others, by the sheets that lay on two of them.

A farm's own book cannot say which of two balances is right, nor whether its own is low where its collector's is low too. But a
collector weighs at many farms, and each farm's sheets are weighed by several collectors: every take of sheets that were weighed at
home is a comparison, and all of them together tell one balance from the others (`bot.rubber.net`).

What a comparison is off by is taken from the comparisons themselves, by their median, once there are enough.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from bot.books.model import FarmSettings
from bot.reckon.gaps import Days, Row, Weights, by_key, together
from bot.reckon.lately import began, beginnings
from bot.reckon.weighed import HOME, By
from bot.reckon.wording import later
from bot.rubber.net import Limits, Off, Pair, against, off
from bot.rubber.robust import deviation

#: Comparisons from which it is known how far they scatter, and the scatter that is believed, in parts of the usual one.
ENOUGH, SCATTER = 20, (0.5, 2.0)

#: How the key of a farm's own balance begins; the farm's follows.
AT_HOME = f"{HOME} "

#: So many standard deviations beyond the usual limit are asked for where several beginnings are looked at.
BEYOND = 0.5

#: Beside the beginnings of a farm's own search the last week alone: a collector's balance is compared many times in it.
WEEK = timedelta(days=6)


@dataclass(frozen=True)
class _Take:
    """Sheets of a farm on its own balance and on a collector's: the two as they are compared, and what each showed."""

    pair: Pair
    home_kg: float
    found_kg: float

    def of_others(self, key: str) -> float:
        """What the other balance showed."""
        return self.home_kg if key == self.pair.one else self.found_kg


@dataclass(frozen=True)
class AtFarm:
    """What a farm's book tells of balances in some days: comparisons, what collectors weighed by its latex, and names."""

    days: Days
    takes: tuple[_Take, ...]
    by_latex: tuple[Row, ...]
    names: Mapping[str, str]


def at_farm(seen: Weights) -> AtFarm:
    """The part of one farm, of which nothing else is kept: there may be a thousand."""
    home = f"{AT_HOME}{seen.farm.id}"
    takes = tuple(
        _Take(
            Pair(day, one.take.by.id, home, one.gap / one.home_kg, one.noise / one.home_kg**2),
            one.home_kg,
            one.found_kg,
        )
        for one in seen.look.compared
        if (day := one.take.record.day) is not None and seen.within(day)
    )
    names = {each.pair.one: later("{name}'s balance", name=seen.look.names[each.pair.one]) for each in takes}
    names[home] = later("The balance at {farm}", farm=seen.farm.name)
    return AtFarm(Days(seen.farm, seen.first, seen.last), takes, tuple(by_key(seen, By.COLLECTOR)), names)


def all_balances(farms: Sequence[AtFarm]) -> list[Row]:
    """All balances in the days of these farms, those that are told first."""
    rows = _rows(farms, [farms[0].days.first], 0.0) if farms else []
    return [replace(row, since=None) for row in rows]


def all_balances_lately(farms: Sequence[AtFarm]) -> list[Row]:
    """The same up to the last day; what is told counts from when it began on (`lately`)."""
    if not farms:
        return []
    days = farms[0].days
    rows = _rows(farms, [*beginnings(days), days.last - WEEK], BEYOND)
    return [row if row.since is None else began(row, row.since) for row in rows]


def _rows(farms: Sequence[AtFarm], since: Sequence[date], beyond: float) -> list[Row]:
    limits, takes = FarmSettings(), _scattered([take for each in farms for take in each.takes])
    unusual, percent = float(limits.gap_unusual), float(limits.gap_percent)
    names = {key: name for each in farms for key, name in each.names.items()}
    own: dict[str, list[_Take]] = {}
    for each in takes:
        own.setdefault(each.pair.one, []).append(each)
        own.setdefault(each.pair.other, []).append(each)
    told = off([each.pair for each in takes], since, Limits(unusual + beyond, percent / 100))
    known = {each.key: each for each in told}
    untold = sorted(own.keys() - known.keys())
    others = (against(key, (each.pair for each in own[key]), farms[0].days.first, known) for key in untold)
    rows = [_row(each, own[each.key], names[each.key], told=each.key in known) for each in (*told, *others) if each]
    latex = together((each.by_latex for each in farms), percent, unusual)
    return [*rows, *(row for row in latex if row.key not in own)]


def _scattered(takes: Sequence[_Take]) -> Sequence[_Take]:
    """Comparisons scatter as they do, and not as is usually assumed, where there are enough."""
    if len(takes) < ENOUGH:
        return takes
    low, high = SCATTER
    scatter = deviation(each.pair.apart / math.sqrt(each.pair.variance) for each in takes)
    wider = min(high, max(low, scatter)) ** 2
    return [replace(each, pair=replace(each.pair, variance=each.pair.variance * wider)) for each in takes]


def _row(found: Off, takes: Sequence[_Take], name: str, *, told: bool) -> Row:
    """Kilos by the other balances, and with what this one is off by."""
    own = [each for each in takes if each.pair.day >= found.since]
    expected = sum(each.of_others(found.key) for each in own)
    way = "less" if found.fraction < 0 else "more"
    asked = (
        f"{name} shows {abs(100 * found.fraction):.1f} % {way} than the other balances, in {len(own)} weighings. "
        "Does it read true? Hang a known weight on it."
    )
    return Row(
        name, expected, expected * (1 + found.fraction), found.deviations, len(own), told=told,
        question=asked if told else "", key=found.key, since=found.since if told else None,
    )  # fmt: skip
