"""The search for gaps as the cooperative does it: at the end of each week, over the sixty days before, farm by farm and together.

A gap counts as found in the first week in which that is told which names it: the tapper whose bucket is not ten litres, the
balance that reads low, the sheets that vanish. Anything else that is told where nothing of the kind was planted is a false alarm.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

from bot.books import Transaction, farms, people
from bot.books.model import FarmSettings
from bot.reckon import gaps
from bot.reckon.gaps import Row
from bot.reckon.weighed import By
from tests.season.cooperative import Driver, Holding
from tests.season.play import Play

SPAN = timedelta(days=60)
SUNDAY = 6

#: What is looked at by key; sheets that are counted come beside.
KINDS = (By.TAPPER, By.BLOCK, By.BALANCE, By.FARM)
SHEETS = "sheets"


@dataclass(frozen=True)
class Told:
    """What is told about a farm (or all together, ``) on a day: of which kind, with whom it lies."""

    day: int
    farm: str
    kind: str
    key: str


@dataclass
class Found:
    """A planted gap and the day on which it was first told (None: never), and by how much, in percent of what is right."""

    what: str
    where: str
    percent: float
    begun: int
    told: int | None

    @property
    def weeks(self) -> int | None:
        """Weeks from its beginning until it was told, begun ones counted."""
        return None if self.told is None else max(1, -(-(self.told - self.begun) // 7))


@dataclass
class Search:
    """Looks at the end of each week while a season is played."""

    play: Play
    told: list[Told] = field(default_factory=list)
    looks: int = 0
    first_day: int = 20

    def __post_init__(self) -> None:
        self.play.habits.append(self.plan)

    def plan(self, day: int, today: date) -> None:
        """On Sundays, when all is in."""
        if today.weekday() == SUNDAY and day >= self.first_day:
            self.play.at(self.play.hour(21.5), lambda: self.look(day, today))

    def look(self, day: int, today: date) -> None:
        """All farms that sell sheets."""
        self.looks += 1
        balances: list[list[Row]] = []
        with self.play.house.books.reading() as tx:
            for holding in self.play.one.holdings:
                if holding.sells == "sheets":
                    balances.append(self._farm(tx, holding, day, today))
        limits = FarmSettings()
        both = gaps.together(balances, float(limits.gap_percent), float(limits.gap_unusual))
        self.told += [Told(day, "", By.BALANCE.value, row.key) for row in both if row.told]

    def _farm(self, tx: Transaction, holding: Holding, day: int, today: date) -> list[Row]:
        farm = farms.farm_named(tx, holding.name)
        assert farm is not None
        seen = gaps.weights(tx, farm, today - SPAN + timedelta(days=1), today)
        found = {by: gaps.by_key(seen, by) for by in KINDS}
        for by, rows in found.items():
            self.told += [Told(day, holding.name, by.value, row.key or row.name) for row in rows if row.told]
        if gaps.finished(seen).told:
            self.told.append(Told(day, holding.name, SHEETS, ""))
        return found[By.BALANCE]

    # What came of it

    def found(self) -> list[Found]:
        """Every planted gap."""
        with self.play.house.books.reading() as tx:
            ids = {each.person.number: each.person.id for each in people.everybody(tx)}
        return [*self._low_balances(ids), *self._at_farms(ids)]

    def _low_balances(self, ids: dict[str, str]) -> Iterator[Found]:
        for driver in self.play.one.drivers:
            if driver.planted.kind == "balance":
                begun, key = driver.planted.day, ids[driver.who.number]
                days = [each.day for each in self.told if not each.farm and each.key == key and each.day > begun]
                yield Found(
                    "collector's balance",
                    driver.who.name,
                    100 * driver.planted.fraction,
                    begun,
                    min(days, default=None),
                )

    def _at_farms(self, ids: dict[str, str]) -> Iterator[Found]:
        for holding in self.play.one.holdings:
            plan = holding.planted
            if plan.kind == "none" or plan.day >= self.play.one.shape.days:
                continue
            what = (
                "balance at home"
                if plan.who == "home"
                else {"bucket": "bucket", "lost": "sheets that vanish"}[plan.kind]
            )
            days = [each.day for each in self.told if each.day > plan.day and self._names(each, holding, ids)]
            yield Found(what, holding.name, 100 * plan.fraction, plan.day, min(days, default=None))

    def _names(self, each: Told, holding: Holding, ids: dict[str, str]) -> bool:
        """Whether what is told is what is planted at the farm."""
        plan = holding.planted
        if each.farm != holding.name:
            return False
        if plan.who == "home":
            return each.kind == By.BALANCE.value and each.key not in ids.values()
        if plan.kind == "bucket":
            return each.kind == By.TAPPER.value and each.key == ids[holding.tapper(plan.who).number]
        return plan.kind == "lost" and each.kind == SHEETS

    def false_alarms(self) -> tuple[Counter[str], float]:
        """What was told without cause, once a farm, kind and month; and how many farm-months were looked at.

        A farm with a gap counts until its gap begins; a collector's balance that reads low is cause for whatever its farms
        are told of balances and weights from then on.
        """
        low = min((d.planted.day for d in self.play.one.drivers if d.planted.kind == "balance"), default=10**6)
        served = {holding.name for driver in self._low() for holding in self._served(driver)}
        asked: set[tuple[str, str, int]] = set()
        plans = {each.name: each.planted for each in self.play.one.holdings}
        for each in self.told:
            plan = plans.get(each.farm)
            begun = plan is not None and plan.kind != "none" and each.day > plan.day
            weighed_low = each.farm in served and each.day > low and each.kind in (By.BALANCE.value, By.FARM.value)
            if plan is not None and not begun and not weighed_low:
                asked.add((each.farm, each.kind, each.day // 30))
        own = [each for each in self.play.one.holdings if each.sells == SHEETS]
        days = self.play.day - self.first_day
        whole = sum(
            max(0, min(days, (h.planted.day if h.planted.kind != "none" else days) - self.first_day)) for h in own
        )
        return Counter(kind for _, kind, _ in asked), whole / 30

    def _low(self) -> list[Driver]:
        return [each for each in self.play.one.drivers if each.planted.kind == "balance"]

    def _served(self, driver: Driver) -> list[Holding]:
        return [each for each in self.play.one.holdings if each.place in driver.stops]
