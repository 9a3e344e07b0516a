"""The rubber of a farm as it truly is, day by day, and what buckets, counts and balances make of it.

The laws are those of `tests/reckon/simulated_books.py`: a season, days that hang together, rain that thins the latex and goes
unreported one time in five, sheets of uneven weight rolled the next day, few of them miscounted or never texted.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from bot.rubber.latex import dry_kg_from_litres
from tests.reckon.simulated_books import Planted
from tests.rubber.simulated_farms import Season, Weather, heavy, laplace

#: Days from rolling to dry sheets.
DRIES = 7


@dataclass(frozen=True)
class Brought:
    """Latex of a block as its tapper reads it off his bucket."""

    tapper: str
    block: str
    litres: Decimal
    rain: bool


class Land:
    """A farm's trees, bucket, drying-house and balance. `tappers` are names with their blocks."""

    def __init__(
        self,
        dice: Random,
        tappers: Mapping[str, tuple[str, ...]],
        *,
        home: bool,
        planted: Planted,
        days: int,
        every_day: bool = False,
    ) -> None:
        self.dice, self.tappers, self.home, self.planted, self.every_day = dice, tappers, home, planted, every_day
        base = 33 + dice.triangular(-3, 3, 0)
        names = [block for own in tappers.values() for block in own]
        self.drc = {name: base + laplace(dice, 1.6) for name in names}
        self.litres = {name: dice.uniform(8, 26) for name in names}
        self.wobble = dict.fromkeys(names, 0.0)
        self.jumps = {name: dice.randrange(days) for name in names if dice.random() < 0.15}
        self.scale = 1 + dice.gauss(0, 0.005)
        self.buckets = {who: 1 + dice.gauss(0, 0.01) for who in tappers}
        self.weather, self.season = Weather(dice), Season(dice, days)
        self.pans: list[float] = []  # dry kg of the day before
        self.hanging: list[tuple[int, list[float]]] = []  # day of rolling, dry kg of each sheet
        self.store: list[float] = []

    def handed_over(self, old: str, new: str) -> None:
        """The blocks of a tapper are another's from now on, with the bucket."""
        self.tappers = {new if who == old else who: own for who, own in self.tappers.items()}
        self.buckets[new] = self.buckets.pop(old)

    def usual(self, block: str) -> Decimal:
        """What a block usually brings, as its owner says it."""
        return Decimal(round(self.litres[block]))

    def tapped(self, day: int) -> list[Brought]:
        """What a day brings: every block each second day; nothing where rain washed the day out."""
        wet = self.weather.next()
        thinned = self.dice.gammavariate(2, 1.0) if wet else 0.0
        return [
            self._brought(day, who, block, wet, thinned)
            for who, own in self.tappers.items()
            if self.every_day or self.dice.random() >= 0.04
            for block in own
            if self.every_day or (day + int(block)) % 2 == 0
        ]

    def _brought(self, day: int, who: str, block: str, wet: bool, thinned: float) -> Brought:
        dice = self.dice
        if day == self.jumps.get(block):
            self.drc[block] += dice.choice((-1, 1)) * dice.uniform(2, 4)
        self.wobble[block] = 0.5 * self.wobble[block] + heavy(dice, 0.7)
        drc = min(46.0, max(18.0, self.drc[block] + self.season.shift(day) - thinned + self.wobble[block]))
        litres = self.litres[block] * dice.gammavariate(40, 1 / 40) * (0.85 if wet else 1.0)
        self.pans.append(dry_kg_from_litres(litres, drc))
        read = litres * self.buckets[who] * dice.uniform(0.98, 1.02) / self.planted.factor("bucket", who, day)
        return Brought(who, block, Decimal(max(2, round(2 * read))) / 2, wet and dice.random() < 0.8)

    def rolled(self, day: int) -> int | None:
        """How many sheets were rolled of the day before, as counted; None where nothing was rolled or nobody says so."""
        dry, self.pans = sum(self.pans), []
        if not dry:
            return None
        count = max(1, round(dry / 0.5))
        parts = [max(0.3, self.dice.gauss(1, 0.07)) for _ in range(count)]
        self.hanging.append((day, [dry * part / sum(parts) for part in parts]))
        if self.dice.random() < 0.02:
            return None
        return max(1, count + (self.dice.choice((-1, 1)) if self.dice.random() < 0.05 else 0))

    def dried(self, day: int) -> tuple[int, Decimal] | None:
        """The sheets that come down dry on a day and what they weigh at home; None where none do, or there is no balance."""
        sheets: list[float] = []
        while self.hanging and self.hanging[0][0] <= day - DRIES:
            sheets += self._left(day, self.hanging.pop(0)[1])
        self.store += sheets
        if not sheets or not self.home:
            return None
        return len(sheets), self.shown(day, "home", sum(sheets), self.scale, self.planted)

    def _left(self, day: int, sheets: list[float]) -> list[float]:
        """What is left where sheets vanish."""
        if self.planted.kind != "lost" or day < self.planted.day:
            return sheets
        return [each for each in sheets if self.dice.random() >= self.planted.fraction]

    def shown(self, day: int, who: str, kg: float, scale: float, planted: Planted) -> Decimal:
        """What a balance shows, to 100 g."""
        true = kg * scale * (1 + heavy(self.dice, 0.008)) * planted.factor("balance", who, day)
        return Decimal(str(round(true, 1)))

    def give(self, count: int) -> list[float]:
        """The oldest dry sheets leave the store; their true weights."""
        gone, self.store = self.store[:count], self.store[count:]
        return gone
