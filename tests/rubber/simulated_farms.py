"""Invented farms whose truth is known, and whose noise is not of the estimate's own making.

A farm has a mean DRC anywhere in 26-40 %, blocks that differ by a Laplace law, a season of a sine with a sudden fall
when the leaves come, days that hang together (autoregressive, heavy-tailed), blocks that jump when the panel is
changed, rain that thins the latex by a skewed amount and goes unreported one time in five, stimulation, a hydrometer
that is off and feels the morning's temperature, buckets read to the half litre, sheets weighed to 0.1 kg four to seven
days later, weighings that never come, and entries that are plainly wrong. Everything follows from the seed.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from bot.rubber.estimate import Batch, Event, Latex, Method, Reading
from bot.rubber.latex import dry_kg_from_litres
from bot.rubber.levels import WetSheets

FIRST = date(2026, 1, 5)


@dataclass
class Day:
    """What was brought on a day, what it truly gave dry, and what a right scale showed, whether entered or not."""

    day: date
    latex: tuple[Latex, ...]
    dry_kg: float
    shown_kg: float


@dataclass
class Farm:
    """A farm's days, and its events with the day on which each became known."""

    days: list[Day] = field(default_factory=list)
    events: list[tuple[date, Event]] = field(default_factory=list)
    wrong: set[str] = field(default_factory=set)


def heavy(random: Random, scale: float, freedom: int = 4) -> float:
    """A draw from Student's t."""
    chi = random.gammavariate(freedom / 2, 2)
    return scale * random.gauss(0, 1) / math.sqrt(chi / freedom)


def laplace(random: Random, scale: float) -> float:
    """A draw from Laplace's law."""
    return random.choice((-1, 1)) * random.expovariate(1 / scale)


class Weather:
    """Rain that comes in spells."""

    def __init__(self, random: Random) -> None:
        self.random, self.wet = random, False
        self.comes, self.stays = random.uniform(0.05, 0.25), random.uniform(0.3, 0.6)

    def next(self) -> bool:
        self.wet = self.random.random() < (self.stays if self.wet else self.comes)
        return self.wet


class Block:
    """A block's true DRC, day by day."""

    def __init__(self, random: Random, name: str, base: float, days: int) -> None:
        self.random, self.name = random, name
        self.base = base + laplace(random, 1.6)
        self.usual_litres = random.uniform(8, 30)
        self.jump_day = random.randrange(days) if random.random() < 0.4 else -1
        self.wobble, self.since_stimulation = 0.0, random.randrange(10, 40)
        self.interval = random.choice((30, 45, 1000))
        self.wobble_scale = random.uniform(0.5, 1.0)

    def next(self, number: int, shift: float, rain: float) -> float:
        if number == self.jump_day:
            self.base += self.random.choice((-1, 1)) * self.random.uniform(2, 4)
        self.since_stimulation += 1
        if self.since_stimulation >= self.interval:
            self.since_stimulation = 0
        stimulated = 2.5 * math.exp(-self.since_stimulation / 8)
        self.wobble = 0.5 * self.wobble + heavy(self.random, self.wobble_scale)
        return min(48.0, max(16.0, self.base + shift - rain - stimulated + self.wobble))


def farm(seed: int, days: int = 150) -> Farm:
    """One farm over so many days."""
    random = Random(seed)
    found = Farm()
    blocks = [Block(random, str(n + 1), 0.0, days) for n in range(random.randrange(2, 8))]
    base = random.triangular(26, 40, 34)
    for block in blocks:
        block.base += base
    weather, season = Weather(random), Season(random, days)
    instrument, weekday = Instrument(random), random.randrange(7)
    tapped_share = random.uniform(0.4, 0.9)
    for number in range(days):
        today = FIRST + timedelta(days=number)
        wet = weather.next()
        rain = random.gammavariate(2, 1.5) if wet else 0.0
        truth = {block.name: block.next(number, season.shift(number), rain) for block in blocks}
        if random.random() < 0.12:
            continue
        for block in blocks:
            block.usual_litres *= (
                1 + 0.004 * math.sin(2 * math.pi * number / 365 + season.phase) + random.gauss(0, 0.01)
            )
        latex = [_brought(random, block, today, wet) for block in blocks if random.random() < tapped_share]
        if latex:
            found.days.append(_day(random, today, latex, truth))
            found.events += _weighing(random, found, found.days[-1], blocks)
            if today.weekday() == weekday:
                found.events += instrument.read(today, latex, truth)
    return found


def _brought(random: Random, block: Block, today: date, wet: bool) -> Latex:
    litres = block.usual_litres * random.gammavariate(14, 1 / 14) * (0.8 if wet else 1.0)
    reported = wet and random.random() < 0.8
    return Latex(today, block.name, litres, reported, block.since_stimulation)


def _day(random: Random, today: date, latex: list[Latex], truth: dict[str, float]) -> Day:
    dry = sum(dry_kg_from_litres(each.litres, truth[each.block]) for each in latex)
    read = tuple(
        Latex(
            each.day,
            each.block,
            max(0.5, round(2 * each.litres * random.uniform(0.97, 1.03)) / 2),
            each.rain,
            each.days_since_stimulation,
        )
        for each in latex
    )
    return Day(today, read, dry, round(dry * (1 + heavy(random, 0.012)), 1))


def _weighing(random: Random, found: Farm, day: Day, blocks: list[Block]) -> Iterator[tuple[date, Event]]:
    if random.random() < 0.15:
        return
    key = f"batch {day.day}"
    kg, latex = day.shown_kg, day.latex
    if random.random() < 0.03:
        found.wrong.add(key)
        kg, latex = _wrong(random, kg, latex, blocks)
    if kg > 0:
        yield day.day + timedelta(days=random.randrange(4, 8)), Batch(key, latex, kg)


def _wrong(random: Random, kg: float, latex: tuple[Latex, ...], blocks: list[Block]) -> tuple[float, tuple[Latex, ...]]:
    slip = random.randrange(4)
    if slip == 0:
        return kg * 10, latex
    if slip == 1:
        return round(kg / 10, 1), latex
    if slip == 2:
        return round(kg * random.uniform(0.5, 0.8), 1), latex
    other = random.choice(blocks).name
    return kg, tuple(Latex(each.day, other, each.litres, each.rain, each.days_since_stimulation) for each in latex)


class Season:
    """A swing over the year, and a sudden fall when the new leaves come."""

    def __init__(self, random: Random, days: int) -> None:
        self.height, self.phase = random.uniform(0.5, 3), random.uniform(0, 2 * math.pi)
        self.fall_day = random.randrange(3 * days)
        self.fall = random.uniform(1, 3)

    def shift(self, number: int) -> float:
        swing = self.height * math.sin(2 * math.pi * number / 365 + self.phase)
        return swing - self.fall * (number >= self.fall_day) * math.exp(-max(0, number - self.fall_day) / 40)


class Instrument:
    """A hydrometer that is off by so much, feels the temperature, and is read by a person."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.bias = random.uniform(-3, 3)
        self.owned = random.random() < 0.6

    def read(self, today: date, latex: list[Latex], truth: dict[str, float]) -> Iterator[tuple[date, Event]]:
        for each in latex if self.owned else []:
            drc = truth[each.block] + self.bias + heavy(self.random, 1.2) + self.random.uniform(-1.5, 0.5)
            drc = 10 * drc if self.random.random() < 0.01 else drc
            if drc <= 60:
                yield today, Reading(f"drc {today} {each.block}", each, round(drc, 1), Method.HYDROMETER, "1")


def wet_sheets(seed: int, batches: int = 60) -> list[WetSheets]:
    """Sheets weighed wet and dry on one farm: moisture anywhere in 24-36 %, a new roller, skewed days, slips."""
    random = Random(seed)
    moisture, change = random.uniform(24, 36), random.randrange(10, 2 * batches)
    found = []
    for number in range(batches):
        own = moisture + 2 * (random.gammavariate(2, 0.7) - 1.4) + (3 if number >= change else 0)
        wet = random.uniform(8, 40)
        dry = wet * (1 - own / 100) * (1 + heavy(random, 0.008))
        dry *= 10 if random.random() < 0.01 else 1
        found.append(WetSheets(str(number), FIRST + timedelta(days=2 * number), round(wet, 1), round(dry, 1)))
    return found
