"""A small linear-Gaussian filter (Kalman's) over named quantities, in plain Python.

What is known is a joint normal distribution over quantities such as ("block", "3"). A quantity appears with its prior
when it is first met, drifts as a random walk, and is corrected by observations that are weighted sums of quantities
plus noise. Two things are added to the textbook filter: an observation that does not fit is listened to less (and a
second one on the same side is taken for a change of level), and the reach of the 80 % range follows how often it held.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from bot.rubber.reference import NORMAL_80

Name = tuple[str, str]
"""A kind of quantity and which one of that kind: ("block", "3")."""

SURPRISE = 3.5
"""Standard deviations from which an observation does not fit: 1 in 2000 by chance."""

REACH_STEP = 0.05
REACH_FIRST_STEP = 0.3
REACH_LIMITS = (0.7, 4.0)


@dataclass(frozen=True)
class Kind:
    """Prior mean and variance of a kind of quantity, its drift (variance a day), and the variance of a change of
    level."""

    mean: float
    variance: float
    drift: float = 0.0
    jump: float = 0.0


@dataclass(frozen=True)
class Observation:
    """`value` = sum of weight x quantity + noise (a variance). `key` names the entry it comes from.

    `levels` are those of the quantities that a lasting surprise changes. Only a `scored` observation counts for the
    range's record.
    """

    key: str
    day: date
    weights: Mapping[Name, float]
    value: float
    noise: float
    levels: tuple[Name, ...] = ()
    scored: bool = False


@dataclass(frozen=True)
class Forecast:
    """What is expected, its variance, and the range that should hold it four times out of five."""

    mean: float
    variance: float
    low: float
    high: float


@dataclass(frozen=True)
class Step:
    """What an observation was to the plain filter: by how much it missed, the variance that was expected of it, its weights by
    the place of their quantity, and the gain, by which each quantity moves for every unit that it misses by.
    """

    error: float
    variance: float
    weights: Sequence[tuple[int, float]]
    gain: Sequence[float]


@dataclass(frozen=True)
class Surprise:
    """An observation that does not fit: how many standard deviations it lies from what was expected."""

    key: str
    day: date
    value: float
    expected: Forecast
    deviations: float


class Belief:
    """A joint normal distribution over named quantities."""

    __slots__ = ("covariance", "index", "mean")

    def __init__(self) -> None:
        self.index: dict[Name, int] = {}
        self.mean: list[float] = []
        self.covariance: list[list[float]] = []

    def copy(self) -> "Belief":
        """An independent copy."""
        twin = Belief()
        twin.index = dict(self.index)
        twin.mean = list(self.mean)
        twin.covariance = [list(row) for row in self.covariance]
        return twin

    def add(self, name: Name, mean: float, variance: float) -> None:
        """A new quantity, independent of those known."""
        for row in self.covariance:
            row.append(0.0)
        self.index[name] = len(self.mean)
        self.mean.append(mean)
        self.covariance.append([0.0] * len(self.mean))
        self.covariance[-1][-1] = variance

    def widen(self, name: Name, variance: float) -> None:
        """Be less sure of one quantity."""
        at = self.index[name]
        self.covariance[at][at] += variance

    def project(self, weights: Mapping[Name, float]) -> tuple[float, float, list[float]]:
        """Mean and variance of the weighted sum, and its covariance with every quantity."""
        places = [(self.index[name], weight) for name, weight in weights.items()]
        mean = sum(weight * self.mean[at] for at, weight in places)
        shared = [0.0] * len(self.mean)
        for at, weight in places:
            shared = [sum_ + weight * each for sum_, each in zip(shared, self.covariance[at], strict=True)]
        return mean, sum(weight * shared[at] for at, weight in places), shared

    def correct(self, shared: list[float], error: float, variance: float) -> None:
        """Take in an observation that missed by `error`, whose own expected variance was `variance`."""
        for at, each in enumerate(shared):
            if each == 0.0:
                continue
            gain = each / variance
            self.mean[at] += gain * error
            self.covariance[at] = [was - gain * other for was, other in zip(self.covariance[at], shared, strict=True)]


@dataclass(frozen=True)
class Learned:
    """What has been learned so far. Not to be changed: `learn` makes a new one."""

    kinds: Mapping[str, Kind]
    own: Mapping[Name, Kind] = field(default_factory=dict)
    belief: Belief = field(default_factory=Belief)
    day: date | None = None
    reach: float = NORMAL_80
    scored: int = 0
    held: int = 0
    seen: Mapping[Name, int] = field(default_factory=dict)
    side: Mapping[Name, bool] = field(default_factory=dict)
    surprises: tuple[Surprise, ...] = ()

    def kind(self, name: Name) -> Kind:
        """The prior of a quantity: its own if it has one, otherwise that of its kind."""
        return self.own.get(name) or self.kinds[name[0]]


def learn(start: Learned, observations: Iterable[Observation]) -> Learned:
    """Take in observations, in the order of their days. `start` stays as it is.

    Raises ValueError for an observation that lies before the day already reached, or whose noise is not positive.
    """
    learner = _Learner(start)
    for each in observations:
        learner.take(each)
    return learner.result()


def steps(start: Learned, observations: Iterable[Observation]) -> Iterator[Step]:
    """The plain filter's way over the observations: each counts in full, however badly it fits. Raises ValueError as `learn`."""
    learner = _Learner(start)
    for each in observations:
        yield learner.step(each)


def foresee(learned: Learned, day: date, weights: Mapping[Name, float], noise: float) -> Forecast:
    """The weighted sum on a day not before the last observation's, with its 80 % range."""
    known = {name: weight for name, weight in weights.items() if name in learned.belief.index}
    mean, variance, _ = learned.belief.project(known)
    days = 0 if learned.day is None else max(0, (day - learned.day).days)
    for name, weight in weights.items():
        kind = learned.kind(name)
        if name in known:
            variance += weight**2 * kind.drift * days
        else:
            mean += weight * kind.mean
            variance += weight**2 * kind.variance
    return _forecast(mean, variance + noise, learned.reach)


def _forecast(mean: float, variance: float, reach: float) -> Forecast:
    half = reach * math.sqrt(variance)
    return Forecast(mean, variance, mean - half, mean + half)


class _Learner:
    """The working copy of what is learned while observations come in."""

    def __init__(self, start: Learned) -> None:
        self.start = start
        self.belief = start.belief.copy()
        self.day = start.day
        self.reach = start.reach
        self.scored, self.held = start.scored, start.held
        self.seen, self.side = dict(start.seen), dict(start.side)
        self.surprises = list(start.surprises)

    def result(self) -> Learned:
        return Learned(
            self.start.kinds,
            self.start.own,
            self.belief,
            self.day,
            self.reach,
            self.scored,
            self.held,
            self.seen,
            self.side,
            tuple(self.surprises),
        )

    def step(self, each: Observation) -> Step:
        mean, variance, shared = self._come_to(each)
        error, variance = each.value - mean, variance + each.noise
        self.belief.correct(shared, error, variance)
        places = [(self.belief.index[name], weight) for name, weight in each.weights.items()]
        return Step(error, variance, places, [covariance / variance for covariance in shared])

    def _come_to(self, each: Observation) -> tuple[float, float, list[float]]:
        """To an observation's day; the mean and variance of its weighted sum, and the covariance with every quantity."""
        if not each.noise > 0:
            raise ValueError(f"Observation {each.key} needs a noise above 0.")
        self._move_to(each.day)
        self._meet(each.weights)
        return self.belief.project(each.weights)

    def take(self, each: Observation) -> None:
        mean, variance, shared = self._come_to(each)
        expected = _forecast(mean, variance + each.noise, self.reach)
        error = each.value - mean
        deviations = error / math.sqrt(expected.variance)
        if abs(deviations) > SURPRISE:
            self.surprises.append(Surprise(each.key, each.day, each.value, expected, deviations))
            shared, variance = self._doubt(each, error, shared, variance)
        else:
            self._forget_sides(each)
            variance += each.noise
        if each.scored:
            self._score(expected.low <= each.value <= expected.high)
        self.belief.correct(shared, error, variance)
        for name in each.levels:
            self.seen[name] = self.seen.get(name, 0) + 1

    def _move_to(self, day: date) -> None:
        if self.day is not None and day < self.day:
            raise ValueError(f"Observations must come in the order of their days: {day} after {self.day}.")
        days = (day - self.day).days if self.day is not None else 0
        if days:
            for name in self.belief.index:
                self.belief.widen(name, days * self.start.kind(name).drift)
        self.day = day

    def _meet(self, names: Iterable[Name]) -> None:
        for name in names:
            if name not in self.belief.index:
                kind = self.start.kind(name)
                self.belief.add(name, kind.mean, kind.variance)

    def _doubt(
        self, each: Observation, error: float, shared: list[float], variance: float
    ) -> tuple[list[float], float]:
        """A first surprise gets so much noise that it counts little; a second on its side widens the levels first."""
        above = error > 0
        again = bool(each.levels) and all(self.side.get(name) is above for name in each.levels)
        if again:
            for name in each.levels:
                self.belief.widen(name, self.start.kind(name).jump)
            _, variance, shared = self.belief.project(each.weights)
        self.side.update(dict.fromkeys(each.levels, above))
        return shared, max(variance + each.noise, (error / SURPRISE) ** 2)

    def _forget_sides(self, each: Observation) -> None:
        for name in each.levels:
            self.side.pop(name, None)

    def _score(self, held: bool) -> None:
        """Wider after a miss, narrower after a hit: in the long run the range holds four times out of five."""
        self.scored += 1
        self.held += held
        step = max(REACH_STEP, REACH_FIRST_STEP / (1 + self.scored / 4))
        low, high = REACH_LIMITS
        self.reach = min(high, max(low, self.reach * math.exp(step * (-0.2 if held else 0.8))))
