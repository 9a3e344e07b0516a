"""Invented books whose truth is known: entries of a farm through a season, with gaps planted in them.

A farm has a mean DRC in 28-38 %, blocks that differ by a Laplace law, a season of a sine, leaf fall on some, days that hang
together (autoregressive, heavy-tailed), rain that thins the latex and goes unreported one time in five, buckets read to the
half litre, sheets of uneven weight rolled the next day (a few miscounted, a few never texted), weighed at home a week
later where there is a balance, and taken by two
collectors in turn, each with a balance of his own. Balances and buckets are a little off everywhere; what is planted comes on
top of it. Everything follows from the seed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from random import Random

from bot.books.model import Entry, Person
from bot.rubber.latex import dry_kg_from_litres
from parsers.reading import Record, What
from tests.rubber.simulated_farms import Season, Weather, heavy, laplace

FIRST = date(2026, 1, 5)
NAME = "Heron Hill"


@dataclass(frozen=True)
class Planted:
    """A gap of a kind from a day on: `bucket` (of a tapper), `balance` (home, or a collector's), `lost` (sheets), `none`.

    `fraction` is by how much less is there than said: 0.1 is a tenth. `trees` is no gap: a tapper's trees give so much less, or
    more where it is below 0.
    """

    kind: str = "none"
    who: str = ""
    fraction: float = 0.0
    day: int = 0

    def factor(self, kind: str, who: str, day: int) -> float:
        """What the true figure is multiplied by to get what is read."""
        return 1 - self.fraction if (self.kind, self.who) == (kind, who) and day >= self.day else 1.0


@dataclass
class Book:
    """A farm's entries as they came, and whether it has a balance at home."""

    entries: list[Entry] = field(default_factory=list)
    home: bool = True
    jumped: dict[str, int] = field(default_factory=dict)
    blocks_of: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def until(self, day: int) -> list[Entry]:
        """What stood in the book at the end of a day."""
        last = FIRST + timedelta(days=day)
        return [each for each in self.entries if each.record.day is not None and each.record.day <= last]


class Writer:
    """Writes a season."""

    def __init__(self, seed: int, planted: Planted, days: int, scales: Mapping[str, float]) -> None:
        self.random, self.planted, self.days = Random(seed), planted, days
        self.book = Book(home=self.random.random() < 0.6)
        self.n = 0
        random = self.random
        self.blocks = {str(n + 1): random.triangular(28, 38, 33) for n in range(random.randrange(3, 6))}
        base = random.triangular(-3, 3, 0)
        self.drc = {name: 33 + base + laplace(random, 1.6) for name in self.blocks}
        self.litres = {name: random.uniform(8, 26) for name in self.blocks}
        self.wobble = dict.fromkeys(self.blocks, 0.0)
        names = list(self.blocks)
        cut = max(1, len(names) // 2)
        self.tappers = {"Ama": tuple(names[:cut]), "Yaw": tuple(names[cut:])}
        self.book.blocks_of = self.tappers
        self.scales = {who: 1 + random.gauss(0, 0.005) for who in ("home", "Mara", "Nuno")} | dict(scales)
        self.buckets = {who: 1 + random.gauss(0, 0.01) for who in self.tappers}
        for name in names:
            if random.random() < 0.15:
                self.book.jumped[name] = random.randrange(days)
        self.weather, self.season = Weather(random), Season(random, days)
        self.pending: list[tuple[float, float]] = []  # dry kg of the day's pans, and litres
        self.hanging: list[tuple[int, list[float]]] = []  # day of rolling, sheets' dry kilos
        self.store: list[float] = []

    def season_of(self) -> Book:
        for day in range(self.days):
            self._roll(day)
            self._tap(day)
            if self.book.home:
                self._weigh(day)
            if day % 7 == 3:
                self._take(day)
        return self.book

    def _write(self, day: int, who: str, hour: int, record: Record, computed: dict | None = None) -> None:
        self.n += 1
        at = datetime.combine(FIRST + timedelta(days=day), time(hour, self.n % 60), UTC)
        by = Person(who.lower(), f"+44770090{len(who)}", who, "en")
        line = Entry(f"e{self.n:06}", "f1", f"m{self.n}", by, None, record, at, None, False, False, computed)
        self.book.entries.append(line)

    def _tap(self, day: int) -> None:
        wet = self.weather.next()
        thinned = self.random.gammavariate(2, 1.0) if wet else 0.0
        for who, own in self.tappers.items():
            if self.random.random() < 0.06:
                continue
            for name in own:
                if (day + int(name)) % 2:
                    continue
                if day == self.book.jumped.get(name):
                    self.drc[name] += self.random.choice((-1, 1)) * self.random.uniform(2, 4)
                self._bring(day, who, name, wet, thinned)

    def _bring(self, day: int, who: str, name: str, wet: bool, thinned: float) -> None:
        random = self.random
        self.wobble[name] = 0.5 * self.wobble[name] + heavy(random, 0.7)
        drc = min(46.0, max(18.0, self.drc[name] + self.season.shift(day) - thinned + self.wobble[name]))
        litres = self.litres[name] * random.gammavariate(14, 1 / 14) * self.planted.factor("trees", who, day)
        self.pending.append((dry_kg_from_litres(litres, drc), litres))
        read = litres * self.buckets[who] * random.uniform(0.98, 1.02) / self.planted.factor("bucket", who, day)
        said = Decimal(max(1, round(2 * read))) / 2
        record = Record(What.LATEX, FIRST + timedelta(days=day), name, litres=said, rain=wet and random.random() < 0.8)
        dry = dry_kg_from_litres(float(said), 33)
        self._write(day, who, 9, record, {"litres": float(said), "dry_kg": dry, "dry_high_kg": dry * 1.15})

    def _roll(self, day: int) -> None:
        if not self.pending:
            return
        dry = sum(kg for kg, _ in self.pending)
        count = max(1, round(dry / 0.5))
        parts = [max(0.3, self.random.gauss(1, 0.07)) for _ in range(count)]
        sheets = [dry * part / sum(parts) for part in parts]
        self.pending = []
        self.hanging.append((day, sheets))
        if self.random.random() < 0.02:
            return  # nobody texted it
        said = max(1, count + (self.random.choice((-1, 1)) if self.random.random() < 0.05 else 0))
        self._write(day, "Ama", 7, Record(What.SHEETS_ROLLED, FIRST + timedelta(days=day), count=said))

    def _lost(self, day: int, sheets: list[float]) -> list[float]:
        if self.planted.kind != "lost" or day < self.planted.day:
            return sheets
        return [each for each in sheets if self.random.random() >= self.planted.fraction]

    def _shown(self, day: int, who: str, kg: float) -> Decimal:
        shown = kg * self.scales[who] * (1 + heavy(self.random, 0.008)) * self.planted.factor("balance", who, day)
        return Decimal(str(round(shown, 1)))

    def _weigh(self, day: int) -> None:
        while self.hanging and self.hanging[0][0] <= day - 7:
            sheets = self._lost(day, self.hanging.pop(0)[1])
            if sheets:
                record = Record(
                    What.SHEETS_DRY,
                    FIRST + timedelta(days=day),
                    count=len(sheets),
                    kg=self._shown(day, "home", sum(sheets)),
                )
                self._write(day, "Ama", 15, record)
                self.store += sheets

    def _take(self, day: int) -> None:
        who = ("Mara", "Nuno")[day // 7 % 2]
        sheets = self.store
        if not self.book.home:
            ready = [each for rolled, each in self.hanging if rolled <= day - 7]
            self.hanging = self.hanging[len(ready) :]
            sheets = self._lost(day, [kg for each in ready for kg in each])
        if sheets:
            kg = self._shown(day, who, sum(sheets))
            self._write(day, who, 17, Record(What.COLLECTED, FIRST + timedelta(days=day), sheets=len(sheets), kg=kg))
            self.store = []


def a_book(
    seed: int, planted: Planted | None = None, days: int = 150, scales: Mapping[str, float] | None = None
) -> Book:
    """The book of one farm over so many days. Balances that several farms share are named in `scales` (a right one shows 1)."""
    return Writer(seed, planted or Planted(), days, scales or {}).season_of()
