"""Balances against each other, over all weights that lay on two of them: which one shows less or more than the others, and since when.

Two balances that differ tell not which of them is right. Many, each compared with several others, do: the one that differs from all
those it was compared with. What a balance is off by is the mean of what it differs by, each weight counted by how sure it is, with
what was found of the others taken off before (the most unusual is found first, then the next beside it, and each again beside all).
A weight further from that mean than two standard deviations pulls no harder than there: a slip of the pen moves little.

How unusual. That mean over its standard deviation, in which two right balances may differ by `TOLERANCE` for ever. Of the days from
which on it may have begun that one stands for which this is largest; see `bot.reckon.lately` for the limits.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from bot.rubber.robust import within

#: Right balances are off by so much (standard deviation). Common practice, no source.
TOLERANCE = 0.007

#: Weights on a balance from which on something is said of it.
ENOUGH = 3

#: A weight further off than so many standard deviations is listened to less; so often the mean is found anew.
CALM, ROUNDS = 2.0, 3


@dataclass(frozen=True)
class Pair:
    """A weight on two balances: by which fraction of it `one` shows more than `other`, and the variance of that."""

    day: date
    one: str
    other: str
    apart: float
    variance: float


@dataclass(frozen=True)
class Off:
    """By which fraction a balance shows more (above 0) or less than the others from a day on, how unusual, in how many weights."""

    key: str
    since: date
    fraction: float
    deviations: float
    weights: int


@dataclass(frozen=True)
class Limits:
    """From how many standard deviations, and from which fraction on, a balance is found."""

    unusual: float
    fraction: float


def off(pairs: Sequence[Pair], beginnings: Iterable[date], limits: Limits) -> list[Off]:
    """The balances that are found, the most unusual first."""
    days = sorted(beginnings)
    of_key: dict[str, list[Pair]] = {}
    for each in pairs:
        of_key.setdefault(each.one, []).append(each)
        of_key.setdefault(each.other, []).append(each)
    found: dict[str, Off] = {}
    while len(found) < len(of_key):
        left = (against(key, own, since, found) for key, own in of_key.items() if key not in found for since in days)
        large = [each for each in left if each is not None and abs(each.fraction) >= limits.fraction]
        best = max(large, key=lambda each: abs(each.deviations), default=None)
        if best is None or abs(best.deviations) < limits.unusual:
            break
        found[best.key] = best
        for key, known in list(found.items()):
            others = {other: one for other, one in found.items() if other != key}
            found[key] = against(key, of_key[key], known.since, others) or known
    still = (each for each in found.values() if abs(each.deviations) >= limits.unusual)
    return sorted(still, key=lambda each: -abs(each.deviations))


def against(key: str, pairs: Iterable[Pair], since: date, known: Mapping[str, Off]) -> Off | None:
    """One balance against those it was compared with from a day on, with what is known of them taken off; None where too few."""
    seen = [(_apart(each, key, known), each.variance) for each in pairs if each.day >= since]
    if len(seen) < ENOUGH:
        return None
    precision = sum(1 / variance for _, variance in seen)
    mean = median(apart for apart, _ in seen)
    for _ in range(ROUNDS):
        calm = ((mean + within(apart - mean, CALM * math.sqrt(variance)), variance) for apart, variance in seen)
        mean = sum(apart / variance for apart, variance in calm) / precision
    return Off(key, since, mean, mean / math.sqrt(1 / precision + TOLERANCE**2), len(seen))


def _apart(pair: Pair, key: str, known: Mapping[str, Off]) -> float:
    """By how much a balance shows more than the other of a pair, but for what is known of that one."""
    other, apart = (pair.other, pair.apart) if key == pair.one else (pair.one, -pair.apart)
    found = known.get(other)
    return apart + (found.fraction if found is not None and pair.day >= found.since else 0.0)
