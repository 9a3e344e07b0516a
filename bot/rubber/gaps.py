"""Which tapper, block, balance or collector the gaps between expected and weighed belong to, and how unusual they are.

What is asked. Sheets that were weighed in some days are held against what the estimate (`estimate`) lets expect of their latex.
A gap may be everybody's (the season, the drying) or lie with one key: a tapper whose bucket is no ten litres, a balance that
reads low. For each key in turn a quantity is added to the estimate's own joint distribution: the fraction by which all that
is its own weighs more or less than expected, beside one for all keys together, so that a key is held against the others and
not against the weather. The filter then says what that fraction is and how sure that is.

How unusual. The fraction over its own standard deviation, as the weighings alone tell it (what was assumed before is taken out
again); the standard deviation is widened where the estimate's range has failed to hold 80 % on this farm. From `UNUSUAL` on
(one in 370 by chance if all were normal) it is told. Where the weighings cannot tell one key from the others, nothing is said.

What else is said of a key (`Search.beside`: how its litres were read) counts as one more observation of its fraction, but only
where the weighings alone lean the same way.

Several at once. The most unusual key is found first and given its own quantity; then the others are looked at again beside
it. Of two keys that differ it cannot be said which is right: the one that is found stands for both, and it is a question.

Everybody's gap is told beyond `ALL_SPREAD`, which comes over all between two periods and is no news.

Where it ends. A gap that was there from the first day on, and is everybody's, is learned as the farm's DRC: only a hydrometer,
or a second balance, can show it. A block whose DRC has changed looks like its tapper's bucket where he alone works there.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from operator import mul

from bot.rubber.filtering import Learned, Observation, Step, steps
from bot.rubber.reference import NORMAL_80

#: From so many standard deviations on a gap is unusual.
UNUSUAL = 3.0

#: Before any weighing a key is thought to be within so much of right: a tenth, either side, two times out of three.
SPREAD = 0.10

#: Everybody's gap beside a key's: what comes between two periods over all (leaf fall, a wet month) and is more than the drift
#: that the estimate knows. Common practice, no source.
ALL_SPREAD = 0.03

#: The weighings must have told this share of what could be known of a key, or nothing is said of it.
TOLD = 0.5

#: A weighing further off than so many standard deviations is listened to less.
CALM = 2.0

#: What is said beside the weighings is believed where they alone lie so many standard deviations on the same side.
BORNE_OUT = 1.5

#: Most keys that are found in one search.
MOST = 5

#: All keys together, which no key is called.
ALL = None


@dataclass(frozen=True)
class Held:
    """Something weighed, as the filter takes it: kilos of it in all, and those that belong to each key.

    A comparison of two balances has 0 kilos in all, kilos above 0 for one and below 0 for the other.
    """

    observation: Observation
    whole: float
    kilos: Mapping[str, float]


@dataclass(frozen=True)
class Gap:
    """What lies with one key: the fraction by which its own weighs more (above 0) or less than expected, and its standard
    deviation; how unusual; in how many weighings it has a part. `found` says that it is unusual.

    `deviations` is None where the weighings cannot tell this key from the others.
    """

    key: str
    fraction: float
    spread: float
    deviations: float | None
    weighings: int
    found: bool = False


@dataclass(frozen=True)
class Search:
    """What is known before the days in question, and what was observed from then on, in the order of the days.

    `way` is the plain filter's over the observations that weigh anything, for whoever has gone it for another search already.
    `beside` tells of the keys and is no weighing: how litres were read (`brought`). Alone it makes no gap.
    """

    before: Learned
    events: tuple[Observation | Held, ...]
    way: Sequence[Step] | None = None
    beside: tuple[Held, ...] = ()

    @property
    def _widened(self) -> float:
        """How much wider the estimate's range had to become on this farm to hold what it says; 1 at least."""
        return max(1.0, self.before.reach / NORMAL_80)

    @property
    def showed(self) -> list[float]:
        """What was weighed in the days in question, kg; comparisons are left out."""
        return [each.observation.value for each in self.events if isinstance(each, Held) and each.whole]

    def together(self) -> Gap:
        """The gap of all keys together. What comes over all between two periods is no news: the range is as much wider."""
        gap = _gap("all", self._fit(self._weighed, (ALL,)), len(self.showed), self._widened)
        if gap.deviations is None:
            return gap
        spread = math.hypot(gap.spread, ALL_SPREAD)
        return replace(gap, spread=spread, deviations=gap.fraction / spread)

    def each(self, unusual: float = UNUSUAL) -> list[Gap]:
        """The gap of each key against all others; those that are found, from so many standard deviations on, stand first."""
        keys = sorted({key for each in self.events if isinstance(each, Held) for key in each.kilos})
        first = {key: self._one(key, ()) for key in keys}
        told: list[Gap] = []
        left = dict(first)
        while left and len(told) < MOST:
            best = max(left.values(), key=lambda gap: abs(gap.deviations or 0.0))
            if abs(best.deviations or 0.0) < unusual:
                break
            beside = tuple(gap.key for gap in told)
            del left[best.key]
            if self._borne_out(best, beside):
                told.append(replace(best, found=True))
                beside = (*beside, best.key)
                left = {key: self._one(key, beside) for key in left}
        named = {gap.key for gap in told}
        return [*told, *(gap for key, gap in first.items() if key not in named)]

    def _one(self, key: str, beside: Sequence[str]) -> Gap:
        weighings = sum(1 for each in self.events if isinstance(each, Held) and each.kilos.get(key))
        return _gap(key, self._fit(self._course, (key, *beside, ALL)), weighings, self._widened)

    def _borne_out(self, gap: Gap, beside: Sequence[str]) -> bool:
        """Whether the weighings alone lean the same way."""
        if not self.beside:
            return True
        mean, variance = self._fit(self._weighed, (gap.key, *beside, ALL))
        told = 1 - variance / SPREAD**2
        return mean * gap.fraction > 0 and abs(mean) >= BORNE_OUT * math.sqrt(max(told, 0.0) * variance) * self._widened

    def _fit(self, course: "_Course", keys: Sequence[str | None]) -> tuple[float, float]:
        """Mean and variance of the fraction of the first key once all was observed, with those of the other keys beside it."""
        variances = [(ALL_SPREAD if key is ALL and len(keys) > 1 else SPREAD) ** 2 for key in keys]
        return course.fractions(keys, variances)

    @cached_property
    def _weighed(self) -> "_Course":
        """By the weighings alone."""
        seen = [each.observation if isinstance(each, Held) else each for each in self.events]
        way = iter(steps(self.before, [each for each in seen if each.weights]) if self.way is None else self.way)
        return _Course(self.events, [next(way) if each.weights else _alone(each) for each in seen])

    @cached_property
    def _course(self) -> "_Course":
        """By all that is said."""
        return self._weighed.with_more(self.beside) if self.beside else self._weighed


def _alone(each: Observation) -> Step:
    """A comparison: it hangs on nothing that the filter knows."""
    return Step(each.value, each.noise, (), ())


class _Course:
    """The plain filter's steps, on which a fraction of any key can be put without going the way again.

    A fraction moves what is observed by its kilos, and so all that the filter takes from it: of every unit of a fraction so
    much is left in each later error. With these columns the errors, which are independent of each other, tell the fractions as
    they would as quantities of the filter.
    """

    def __init__(self, events: Sequence[Observation | Held], way: Sequence[Step]) -> None:
        self._events, self._way = events, way
        self._columns: dict[str | None, Sequence[float]] = {}
        self._slips: dict[int, Sequence[float]] = {}

    def with_more(self, more: Sequence[Held]) -> "_Course":
        """The same with what hangs on nothing that the filter knows behind it."""
        return _Course([*self._events, *more], [*self._way, *(_alone(each.observation) for each in more)])

    def fractions(self, keys: Sequence[str | None], variances: Sequence[float]) -> tuple[float, float]:
        """Mean and variance of the first of some fractions, of which these variances were thought before.

        What lies further off than `CALM` standard deviations pulls no harder than at `CALM`: a sheet of the wrong day, a slip of
        the pen, without which one weighing would make a gap. It is given a quantity of its own, as wide as that needs.
        """
        columns = [self._column(key) for key in keys]
        mean = [0.0] * len(keys)
        covariance = [[0.0] * at + [each] + [0.0] * (len(keys) - at - 1) for at, each in enumerate(variances)]
        for at, step in enumerate(self._way):
            left = [column[at] for column in columns]
            shared = [sum(map(mul, row, left)) for row in covariance]
            variance = step.variance + sum(map(mul, left, shared))
            error = step.error - sum(map(mul, left, mean))
            far = (error / CALM) ** 2 - variance
            if far > 0:
                variance += far
                if step.gain:
                    _add(mean, covariance, far)
                    columns.append(self._slip(at))
                    shared.append(far)
            for place, each in enumerate(shared):
                if each:
                    gain = each / variance
                    mean[place] += gain * error
                    covariance[place] = [
                        was - gain * other for was, other in zip(covariance[place], shared, strict=True)
                    ]
        return mean[0], covariance[0][0]

    def _column(self, key: str | None) -> Sequence[float]:
        """What a unit of a key's fraction leaves in each error."""
        if key not in self._columns:
            self._columns[key] = self._left([_kilos(each, key) for each in self._events])
        return self._columns[key]

    def _slip(self, slipped: int) -> Sequence[float]:
        """What a unit that one observation is off by leaves in each error, its own among them."""
        if slipped not in self._slips:
            self._slips[slipped] = self._left([float(at == slipped) for at in range(len(self._way))])
        return self._slips[slipped]

    def _left(self, moved: Sequence[float]) -> list[float]:
        """What is left in each error of something that moves the observations by so much."""
        taken: list[float] = []
        found = []
        for each, step in zip(moved, self._way, strict=True):
            if not each and not taken:
                found.append(0.0)
                continue
            taken += [0.0] * (len(step.gain) - len(taken))
            left = each - sum(weight * taken[place] for place, weight in step.weights)
            found.append(left)
            if step.gain:
                taken = [was + left * gain for was, gain in zip(taken, step.gain, strict=True)]
        return found


def _kilos(each: Observation | Held, key: str | None) -> float:
    if isinstance(each, Observation):
        return 0.0
    return each.whole if key is ALL else each.kilos.get(key, 0.0)


def _add(mean: list[float], covariance: list[list[float]], variance: float) -> None:
    """One more quantity, independent of the others and thought to be 0."""
    for row in covariance:
        row.append(0.0)
    covariance.append([*(0.0 for _ in mean), variance])
    mean.append(0.0)


def _gap(key: str, found: tuple[float, float], weighings: int, widened: float) -> Gap:
    """What the weighings alone say: the mean and variance without what was assumed before."""
    mean, variance = found
    told = 1 - variance / SPREAD**2
    if told < TOLD:
        return Gap(key, mean, math.sqrt(variance), None, weighings)
    spread = math.sqrt(variance / told) * widened
    return Gap(key, mean / told, spread, mean / told / spread, weighings)
