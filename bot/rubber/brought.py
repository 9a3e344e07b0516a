"""Litres against litres: whether a tapper's own rose or fell beside the others' from a day on, as a bucket that changed makes them.

A bucket of eight litres that is called ten makes a quarter more litres of the same latex, from one day to the next, for all blocks
of one tapper; and what they weigh dry becomes a fifth less of what is expected. Trees can do the first as well: a new panel,
stimulation. So this is never told alone: it stands beside the weighings in `gaps.Search`, which have to lean the same way.

How. Each tapping's litres against the usual of its block before that day (the logarithm of the ratio), the mean over all of a
tapper's tappings, in which none counts further than two standard deviations from their middle, less what the other tappers' have
done in the same days: rain and season are everybody's. Its spread is that of the means, from the farm's own scatter, and what
tappers' litres wander beside each other without cause: as much as their weeks did before, and `WANDER` at least.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean, median

from bot.rubber.filtering import Observation
from bot.rubber.gaps import Held
from bot.rubber.robust import calm_mean, deviation

#: Tappers' litres wander beside each other by so much at least, for months, and nobody's bucket changed. Common practice, no source.
WANDER = 0.06

#: Days before in which a block's usual litres are looked for, and tappings needed before and after.
BEFORE_DAYS, ENOUGH = 60, 4

#: A tapping's litres are scattered by so much at least, and listened to up to so many standard deviations.
LEAST, CALM = 0.03, 2.0


@dataclass(frozen=True)
class Brought:
    """Litres that somebody read off his bucket, from a block."""

    who: str
    block: str
    day: date
    litres: float


@dataclass(frozen=True)
class Change:
    """By which fraction a tapper's litres hold less (below 0) or more dry rubber than said, if nothing else changed; its variance."""

    who: str
    fraction: float
    variance: float


def beside(brought: Iterable[Brought], since: date) -> tuple[Held, ...]:
    """What the litres say of each tapper against the others from a day on: independent of each other, as `Search` takes them."""
    found = changes([each for each in brought if each.litres > 0], since)
    return tuple(_against(each, found[:n], since) for n, each in enumerate(found) if n)


def _against(own: Change, others: Sequence[Change], since: date) -> Held:
    """One against the mean of those before him in the row, each counted by how sure it is."""
    whole = sum(1 / each.variance for each in others)
    shares = {each.who: 1 / each.variance / whole for each in others}
    value = own.fraction - sum(shares[each.who] * each.fraction for each in others)
    seen = Observation(f"{own.who} litres", since, {}, value, own.variance + 1 / whole)
    return Held(seen, 0.0, {own.who: 1.0} | {who: -share for who, share in shares.items()})


def changes(brought: Sequence[Brought], since: date) -> list[Change]:
    """How each tapper's litres changed on a day, where there are enough of them before and after."""
    early = since - timedelta(days=BEFORE_DAYS)
    before = _of_blocks(each for each in brought if early <= each.day < since)
    usual = {block: median(math.log(each.litres) for each in own) for block, own in before.items()}
    apart = [(each, math.log(each.litres) - usual[each.block]) for each in brought if each.block in usual]
    was = [(each, value) for each, value in apart if early <= each.day < since]
    weeks = _weeks(was)
    scatter = max(LEAST, _scatter(weeks))
    after = _of_tappers((each, value) for each, value in apart if each.day >= since)
    wander = max(WANDER**2, _wandered(weeks, scatter))
    return [
        Change(who, math.exp(-calm_mean(own, CALM * scatter)) - 1, wander + scatter**2 * (1 / len(own) + 1 / count))
        for who, own in sorted(after.items())
        if len(own) >= ENOUGH and (count := sum(each.who == who for each, _ in was)) >= ENOUGH
    ]


def _of_blocks(brought: Iterable[Brought]) -> Mapping[str, list[Brought]]:
    found: dict[str, list[Brought]] = {}
    for each in brought:
        found.setdefault(each.block, []).append(each)
    return {block: own for block, own in found.items() if len(own) >= ENOUGH}


def _of_tappers(apart: Iterable[tuple[Brought, float]]) -> dict[str, list[float]]:
    """What each tapper's tappings lie apart from the usual by."""
    found: dict[str, list[float]] = {}
    for each, value in apart:
        found.setdefault(each.who, []).append(value)
    return found


def _weeks(was: Iterable[tuple[Brought, float]]) -> list[Mapping[str, list[float]]]:
    """What each tapper's tappings lay apart by, week by week."""
    found: dict[int, list[tuple[Brought, float]]] = {}
    for each, value in was:
        found.setdefault(each.day.toordinal() // 7, []).append((each, value))
    return [_of_tappers(week) for week in found.values()]


def _scatter(weeks: Iterable[Mapping[str, Sequence[float]]]) -> float:
    """How far a tapping lies from those of the same tapper and week (standard deviation)."""
    apart = [
        (value - fmean(own)) * math.sqrt(len(own) / (len(own) - 1))
        for week in weeks
        for own in week.values()
        if len(own) > 1
        for value in own
    ]
    return deviation(apart) if apart else 0.0


def _wandered(weeks: Iterable[Mapping[str, Sequence[float]]], scatter: float) -> float:
    """The variance with which weeks of one tapper went apart from the same weeks of the others, beyond the tappings' scatter."""
    found = []
    for week in weeks:
        means = [(calm_mean(own, CALM * scatter), len(own)) for own in week.values()]
        middle = fmean(mean for mean, _ in means)
        found += [(mean - middle) ** 2 - scatter**2 / count for mean, count in means if len(means) > 1]
    return fmean(found) if found else 0.0
