"""Which tapper, block, balance or collector the gaps between expected and weighed belong to, and how unusual they are.

What is asked. Sheets that were weighed in some days are held against what the estimate (`estimate`) lets expect of their latex.
A gap may be everybody's (the season, the drying) or lie with one key: a tapper whose bucket is no ten litres, a balance that
reads low. For each key in turn a quantity is added to the estimate's own joint distribution: the fraction by which all that
is its own weighs more or less than expected, beside one for all keys together, so that a key is held against the others and
not against the weather. The filter then says what that fraction is and how sure that is.

How unusual. The fraction over its own standard deviation, as the weighings alone tell it (what was assumed before is taken out
again); the standard deviation is widened where the estimate's range has failed to hold 80 % on this farm. From `UNUSUAL` on
(one in 370 by chance if all were normal) it is told. Where the weighings cannot tell one key from the others, nothing is said.

Several at once. The most unusual key is found first and given its own quantity; then the others are looked at again beside
it. Of two keys that differ it cannot be said which is right: the one that is found stands for both, and it is a question.

Where it ends. A gap that was there from the first day on, and is everybody's, is learned as the farm's DRC: only a hydrometer,
or a second balance, can show it. A block whose DRC has changed looks like its tapper's bucket where he alone works there.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bot.rubber.filtering import Kind, Learned, Name, Observation, foresee, learn
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

#: Most keys that are found in one search.
MOST = 5

ALL: Name = ("gap", "all")


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
    """What is known before the days in question, and what was observed from then on, in the order of the days."""

    before: Learned
    events: tuple[Observation | Held, ...]

    @property
    def _widened(self) -> float:
        """How much wider the estimate's range had to become on this farm to hold what it says; 1 at least."""
        return max(1.0, self.before.reach / NORMAL_80)

    @property
    def showed(self) -> list[float]:
        """What was weighed in the days in question, kg; comparisons are left out."""
        return [each.observation.value for each in self.events if isinstance(each, Held) and each.whole]

    def together(self) -> Gap:
        """The gap of all keys together."""
        (found,) = self._fit((ALL,)).values()
        return _gap(ALL, found, len(self.showed), self._widened)

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
            told.append(replace(best, found=True))
            beside = tuple(gap.key for gap in told)
            left = {key: self._one(key, beside) for key in left if key != best.key}
        named = {gap.key for gap in told}
        return [*told, *(gap for key, gap in first.items() if key not in named)]

    def _one(self, key: str, beside: Sequence[str]) -> Gap:
        names = (("gap", f"of {key}"), *(("gap", f"of {each}") for each in beside), ALL)
        weighings = sum(1 for each in self.events if isinstance(each, Held) and each.kilos.get(key))
        return _gap(("gap", key), self._fit(names)[names[0]], weighings, self._widened)

    def _fit(self, names: Sequence[Name]) -> dict[Name, tuple[float, float]]:
        """Mean and variance of the fractions with these names once all was observed."""
        own = {name: Kind(0.0, (ALL_SPREAD if name == ALL and len(names) > 1 else SPREAD) ** 2) for name in names}
        start = replace(self.before, own={**self.before.own, **own})
        known = start
        for each in self.events:
            known = learn(known, [_heard(known, _with(each, names))])
        belief = known.belief
        return {
            name: (belief.mean[at], belief.covariance[at][at])
            if (at := belief.index.get(name)) is not None
            else (0.0, SPREAD**2)
            for name in names
        }


def _with(each: Observation | Held, names: Iterable[Name]) -> Observation:
    """The observation with what lies with the keys; levels do not jump, since a jump would hide the gap."""
    if isinstance(each, Observation):
        return each
    weights = dict(each.observation.weights)
    for name in names:
        kilos = each.whole if name == ALL else each.kilos.get(name[1].removeprefix("of "), 0.0)
        if kilos:
            weights[name] = kilos
    return replace(each.observation, weights=weights, levels=(), scored=False)


def _heard(known: Learned, each: Observation) -> Observation:
    """The observation with so much more noise as one that lies far off deserves: a sheet of the wrong day, a slip of the pen.

    Without it one weighing would make a gap. What lies beyond `CALM` standard deviations pulls no harder than at `CALM`.
    """
    expected = foresee(known, each.day, each.weights, each.noise)
    far = ((each.value - expected.mean) / CALM) ** 2 - expected.variance
    return replace(each, noise=each.noise + far) if far > 0 else each


def _gap(name: Name, found: tuple[float, float], weighings: int, widened: float) -> Gap:
    """What the weighings alone say: the mean and variance without what was assumed before."""
    mean, variance = found
    told = 1 - variance / SPREAD**2
    if told < TOLD:
        return Gap(name[1], mean, math.sqrt(variance), None, weighings)
    spread = math.sqrt(variance / told) * widened
    return Gap(name[1], mean / told, spread, mean / told / spread, weighings)
