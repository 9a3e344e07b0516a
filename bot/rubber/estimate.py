"""The learning estimate: how much dry rubber a block's latex holds, how sure that is, and how it learns.

What is estimated. Grams of dry rubber in a litre of latex. A batch of sheets then weighs exactly the sum over its
litres, so nothing has to be made linear; a DRC in percent is turned into g/L by the density of latex (Smith 1940).

    g/L of a block on a day  =  farm  +  block  +  rain (if it rained)  +  stimulation x share of it left  +  the day
    hydrometer reading       =  that  +  what this instrument is off by  +  reading error
    weighed batch, kg        =  sum of litres x g/L / 1000  +  error of buckets and scales

What is assumed before any figure comes in (points of DRC; every value, with its status, is in `reference` as
"estimate_..."): the farm 33 with a standard deviation of 3.0 and each block 2.5 from its farm, together the published
30-40 % as an 80 % range. Rain and stimulation 0 with 3 and 2: nothing published says how many points they take, so no
correction is invented; the range is wider and the farm's own figures fill it in. A hydrometer may be off by 2. The
farm's level wanders by 0.15 a day (the season), a block's by 0.08, so that the range widens over a gap by itself.

How it learns. One joint normal distribution is kept over all these quantities (`filtering`, a Kalman filter). A figure
pulls every quantity that it is made of, by how unsure each is: a batch of blocks 3 and 5 teaches both, and the farm,
and so a little about block 7; a hydrometer that disagrees with the scales is found to be off. A reading's error is 1.8
points (hydrometer) or 0.7 (laboratory); a block's day differs from its level by 1.0; buckets are read to 3 %, a scale
to 2 %; under rain the whole day varies by a further 1.5.

What does not fit. A figure more than 3.5 standard deviations off is kept as a surprise and counts little: a weight
typed ten times too large hardly moves anything. If the block's next figure is off on the same side, its level has
changed (a new panel): the block is made unsure by 3 points and the figure is believed.

How sure. The range should hold four times out of five. It starts at 1.28 standard deviations to either side and is
widened a little after each weighed batch outside it and narrowed after each inside, in the proportion 4 : 1, so that it
comes to hold 80 % whatever the farm's own scatter is. `kept_word` says how often it did.

Corrections. `refit` is a pure function of the events, sorted by the day of the latex, not of the weighing: an entry
that is changed, removed or late changes all that follows, and nothing else has to be undone. A batch of several days is
read as if all had come on its last day; the drift in between is far below the day's own scatter.

Where it ends. It knows no more than it is told: rain that nobody reports looks like scatter; latex spilled or sheets
eaten by mould look like a low DRC. The noise is taken to be normal and independent, which it is not, hence the reach
that learns.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from bot.rubber.filtering import Kind, Learned, Name, Observation, Surprise, foresee, learn
from bot.rubber.latex import drc_from_grams_per_litre, grams_per_litre
from bot.rubber.reference import value

FARM: Name = ("farm", "")
RAIN: Name = ("rain", "")
STIMULATION: Name = ("stimulation", "")


class Method(StrEnum):
    """How a DRC was measured."""

    HYDROMETER = "hydrometer"
    LABORATORY = "laboratory"


@dataclass(frozen=True)
class Latex:
    """One block's latex of one day. `days_since_stimulation` is None if that is long ago or unknown."""

    day: date
    block: str
    litres: float
    rain: bool = False
    days_since_stimulation: int | None = None


@dataclass(frozen=True)
class Reading:
    """A measured DRC, % m/m, of one block's latex. `instrument` tells hydrometers apart; `key` names the entry."""

    key: str
    latex: Latex
    drc_percent: float
    method: Method = Method.HYDROMETER
    instrument: str = ""
    spread_points: float | None = None


@dataclass(frozen=True)
class Batch:
    """Sheets weighed dry, kg, and the latex that they were made of. `key` names the entry."""

    key: str
    latex: tuple[Latex, ...]
    dry_kg: float


Event = Reading | Batch


@dataclass(frozen=True)
class Expected:
    """Dry rubber to expect, kg, with the range that should hold it four times out of five; the same as DRC, % m/m.

    `observations` counts the readings and batches that the blocks in it have had.
    """

    dry_kg: float
    dry_kg_low: float
    dry_kg_high: float
    drc_percent: float
    drc_low: float
    drc_high: float
    observations: int


def refit(events: Iterable[Event], *, start: Learned | None = None) -> Learned:
    """What is known after these events, whatever the order they come in: a changed entry changes all that follows.

    A batch counts on the last day of its latex, not on the day it was weighed. With `start` (from an earlier refit)
    only events of that day or later may come. Raises ValueError for a batch without latex or a weight that is not above
    0.
    """
    ordered = sorted(events, key=lambda event: (event_day(event), event.key))
    return learn(start or prior(), (_observation(event) for event in ordered))


def prior(drc_percent: float = value("drc_usual")) -> Learned:
    """What is known before any figure came in: 33 %, or the DRC that the farm itself starts from."""
    return Learned(KINDS, {FARM: replace(KINDS["farm"], mean=grams_per_litre(drc_percent))})


def expect(learned: Learned, latex: Sequence[Latex], measured: Sequence[Reading] = ()) -> Expected:
    """Dry rubber in this latex, all of it set together, from what is known by its day.

    `measured` are DRC readings of this very latex that `learned` does not hold yet: they tell of the day as well as of
    the block, and a hydrometer's known fault is taken off. Raises ValueError without any litres.
    """
    litres = sum(each.litres for each in latex)
    if not litres > 0:
        raise ValueError("Without litres there is nothing to expect.")
    weights, noise = _batch_weights(latex), _batch_noise(latex)
    if measured:
        learned = learn(learned, [_of_the_day(reading, learned.day) for reading in measured])
        told = {_own_day(reading.latex) for reading in measured}
        for each in latex:
            if _own_day(each) in told:
                weights[_own_day(each)] = weights.get(_own_day(each), 0.0) + each.litres / 1000
                noise -= _day_variance(each)
    found = foresee(learned, max(each.day for each in latex), weights, noise)
    seen = sum(learned.seen.get(("block", block), 0) for block in {each.block for each in latex})
    drc, low, high = (_drc(1000 * kg / litres) for kg in (found.mean, found.low, found.high))
    return Expected(found.mean, max(0.0, found.low), found.high, drc, low, high, seen)


def surprises(learned: Learned) -> tuple[Surprise, ...]:
    """The readings and batches that did not fit, oldest first. Worth a question to whoever entered them."""
    return learned.surprises


def kept_word(learned: Learned) -> tuple[int, int]:
    """How many weighed batches lay in the range said for them, and how many there were."""
    return learned.held, learned.scored


def stimulation_left(days: int | None) -> float:
    """How much of a stimulation's effect is left: 1 on its day, falling to 0."""
    if days is None or days < 0:
        return 0.0
    return max(0.0, 1 - days / value("estimate_stimulation_days"))


def quantities(latex: Latex) -> dict[Name, float]:
    """The quantities that this latex is made of, with their weights: farm, block, rain, stimulation."""
    weights: dict[Name, float] = {FARM: 1.0, ("block", latex.block): 1.0}
    if latex.rain:
        weights[RAIN] = 1.0
    stimulated = stimulation_left(latex.days_since_stimulation)
    if stimulated:
        weights[STIMULATION] = stimulated
    return weights


_GRAMS_PER_POINT = grams_per_litre(value("drc_usual") + 0.5) - grams_per_litre(value("drc_usual") - 0.5)
_GRAMS_USUAL = grams_per_litre(value("drc_usual"))


def _grams(points: str) -> float:
    return value(points) * _GRAMS_PER_POINT


def _kind(mean: float, spread: str, drift: str | None = None, jump: str | None = None) -> Kind:
    return Kind(mean, _grams(spread) ** 2, _grams(drift) ** 2 if drift else 0.0, _grams(jump) ** 2 if jump else 0.0)


KINDS: Mapping[str, Kind] = {
    "farm": _kind(_GRAMS_USUAL, "estimate_farm_spread", "estimate_farm_drift"),
    "block": _kind(0.0, "estimate_block_spread", "estimate_block_drift", "estimate_jump"),
    "rain": _kind(0.0, "estimate_rain_spread"),
    "stimulation": _kind(0.0, "estimate_stimulation_spread"),
    "day": _kind(0.0, "estimate_block_day"),
    "instrument": _kind(0.0, "estimate_instrument_spread", "estimate_instrument_drift"),
}
"""Quantities of the filter, in grams of dry rubber a litre."""


def event_day(event: Event) -> date:
    """The day on which it counts: of a batch the last day of its latex. Raises ValueError for a batch without latex."""
    if isinstance(event, Reading):
        return event.latex.day
    if not event.latex:
        raise ValueError(f"Batch {event.key} names no latex.")
    return max(each.day for each in event.latex)


def _observation(event: Event) -> Observation:
    return _read(event) if isinstance(event, Reading) else _weighed(event)


def _weighed(batch: Batch) -> Observation:
    if not batch.dry_kg > 0:
        raise ValueError(f"Batch {batch.key} must weigh more than 0 kg.")
    weights = _batch_weights(batch.latex)
    return Observation(
        batch.key, event_day(batch), weights, batch.dry_kg, _batch_noise(batch.latex), _blocks(weights), scored=True
    )


def _read(reading: Reading) -> Observation:
    weights = quantities(reading.latex)
    if reading.method is Method.HYDROMETER:
        weights["instrument", reading.instrument] = 1.0
    noise = _reading_noise(reading, f"estimate_{reading.method}_error")
    grams = grams_per_litre(reading.drc_percent)
    return Observation(reading.key, reading.latex.day, weights, grams, noise, _blocks(weights))


def _own_day(latex: Latex) -> Name:
    return ("day", f"{latex.day} {latex.block}")


def _of_the_day(reading: Reading, known: date | None) -> Observation:
    """The reading as news of its day too: the day's own difference is a quantity, no longer noise."""
    plain = _read(reading)
    noise = plain.noise - _grams("estimate_block_day") ** 2
    day = plain.day if known is None else max(plain.day, known)
    return replace(plain, day=day, weights={**plain.weights, _own_day(reading.latex): 1.0}, noise=noise)


def _batch_weights(latex: Sequence[Latex]) -> dict[Name, float]:
    total: dict[Name, float] = {}
    for each in latex:
        for name, weight in quantities(each).items():
            total[name] = total.get(name, 0.0) + weight * each.litres / 1000
    return total


def _batch_noise(latex: Sequence[Latex]) -> float:
    """Variance, kg squared, of what the quantities do not tell: days, buckets and scales."""
    kg = [each.litres * _GRAMS_USUAL / 1000 for each in latex]
    days = sum(_day_variance(each) for each in latex)
    rains = sum((litres / 1000 * _grams("estimate_rain_day")) ** 2 for litres in _rained(latex).values())
    buckets = sum((value("estimate_litres_error") * each) ** 2 for each in kg)
    return days + rains + buckets + (value("estimate_weighing_error") * sum(kg)) ** 2


def _day_variance(latex: Latex) -> float:
    """Variance, kg squared, of this day's latex against the level of its block."""
    return (latex.litres / 1000 * _grams("estimate_block_day")) ** 2


def _rained(latex: Sequence[Latex]) -> dict[date, float]:
    """Litres under rain by day: a rain falls on all blocks of its day alike."""
    litres: dict[date, float] = {}
    for each in latex:
        if each.rain:
            litres[each.day] = litres.get(each.day, 0.0) + each.litres
    return litres


def _reading_noise(reading: Reading, usual: str) -> float:
    """Variance, (g/L) squared: the method's own error, and the day's latex against the block's level."""
    error = _grams(usual) if reading.spread_points is None else reading.spread_points * _GRAMS_PER_POINT
    rain = _grams("estimate_rain_day") if reading.latex.rain else 0.0
    return error**2 + rain**2 + _grams("estimate_block_day") ** 2


def _blocks(weights: Mapping[Name, float]) -> tuple[Name, ...]:
    return tuple(name for name in weights if name[0] == "block")


def _drc(grams: float) -> float:
    return drc_from_grams_per_litre(min(max(grams, 0.0), 900.0))
