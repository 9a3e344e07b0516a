"""The search for gaps as the cooperative does it: at the end of each week, farm by farm and all balances together, whenever a gap began.

A gap counts as found in the first week in which that is told which names it: the tapper whose bucket is not ten litres, the
balance that reads low, the sheets that vanish. Anything else that is told where nothing of the kind was planted is a false alarm,
but for a block whose latex did change on the land (`Land.jumps`): that is counted apart.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from bot.books import Transaction, farms, people
from bot.reckon import gaps
from bot.reckon.balances import AT_HOME, AtFarm, all_balances_lately, at_farm
from bot.reckon.lately import by_key_lately, finished_lately
from bot.reckon.weighed import HOME, By
from tests.season.cooperative import Driver, Holding
from tests.season.land import DRIES
from tests.season.play import Play

#: Days that are looked at.
SPAN = timedelta(days=60)
SUNDAY = 6

#: What is looked at by key, and beside it: sheets that are counted, latex that was never rolled, takes by the weight at home.
KINDS = (By.TAPPER, By.BLOCK, By.BALANCE, By.FARM)
SHEETS, ROLLED, TAKEN = "sheets", "rolled", "taken"

#: What a balance that reads low is cause for.
OF_WEIGHTS = (By.BALANCE.value, By.FARM.value, TAKEN)


@dataclass(frozen=True)
class Told:
    """What is told about a farm (or of all balances together, ``) on a day: of which kind, with whom it lies."""

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
        with self.play.house.books.reading() as tx:
            own = [each for each in self.play.one.holdings if each.sells == SHEETS]
            seen = [self._farm(tx, holding, day, today) for holding in own]
        self.told += [Told(day, "", By.BALANCE.value, row.key) for row in all_balances_lately(seen) if row.told]

    def _farm(self, tx: Transaction, holding: Holding, day: int, today: date) -> AtFarm:
        farm = farms.farm_named(tx, holding.name)
        assert farm is not None
        seen = gaps.weights(tx, farm, today - SPAN + timedelta(days=1), today)
        for by in KINDS:
            rows = by_key_lately(seen, by)
            self.told += [Told(day, holding.name, by.value, row.key or row.name) for row in rows if row.told]
        counted = {SHEETS: finished_lately(seen), ROLLED: gaps.rolled(seen), TAKEN: gaps.taken(seen)}
        self.told += [Told(day, holding.name, kind, "") for kind, row in counted.items() if row.told]
        return at_farm(seen)

    # What came of it

    def found(self) -> list[Found]:
        """Every planted gap."""
        keys = self._keys()
        return [*self._low_balances(keys), *self._at_farms(keys)]

    def _keys(self) -> Mapping[str, set[str]]:
        """By what keys each person, and each farm's balance among all, is told: whoever got a new phone may have two."""
        keys: dict[str, set[str]] = {}
        with self.play.house.books.reading() as tx:
            for each in people.everybody(tx):
                keys.setdefault(each.person.name, set()).add(each.person.id)
            for farm in farms.all_farms(tx):
                keys[farm.name] = {f"{AT_HOME}{farm.id}"}
        return keys

    def _low_balances(self, keys: Mapping[str, set[str]]) -> Iterator[Found]:
        for driver in self._low():
            begun, own = driver.planted.day, keys[driver.who.name]
            days = [each.day for each in self.told if not each.farm and each.key in own and each.day > begun]
            percent = 100 * driver.planted.fraction
            yield Found("collector's balance", driver.who.name, percent, begun, min(days, default=None))

    def _at_farms(self, keys: Mapping[str, set[str]]) -> Iterator[Found]:
        for holding in self.play.one.holdings:
            plan = holding.planted
            if plan.kind == "none" or plan.day >= self.play.one.shape.days:
                continue
            what = (
                "balance at home" if plan.who == HOME else {"bucket": "bucket", "lost": "sheets that vanish"}[plan.kind]
            )
            days = [each.day for each in self.told if each.day > plan.day and self._names(each, holding, keys)]
            yield Found(what, holding.name, 100 * plan.fraction, plan.day, min(days, default=None))

    @staticmethod
    def _names(each: Told, holding: Holding, keys: Mapping[str, set[str]]) -> bool:
        """Whether what is told is what is planted at the farm."""
        plan = holding.planted
        if plan.who == HOME:
            here = each.farm == holding.name and each.key == HOME
            return each.kind == By.BALANCE.value and (here or (not each.farm and each.key in keys[holding.name]))
        if plan.kind == "bucket":
            return each.farm == holding.name and each.kind == By.TAPPER.value and each.key in keys[plan.who]
        return plan.kind == "lost" and each.farm == holding.name and each.kind == SHEETS

    def false_alarms(self) -> tuple[Counter[str], float]:
        """What was told without cause, once a farm (or balance), kind and month; and how many farm-months were looked at.

        A farm with a gap counts until its gap begins; a collector's balance that reads low is cause for whatever its farms
        are told of balances and weights from then on.
        """
        own = [each for each in self.play.one.holdings if each.sells == SHEETS]
        asked = {(each.farm, each.kind, each.day // 30) for each in self.told if each.farm and self._causeless(each)}
        asked |= {
            (each.key, "all balances", each.day // 30)
            for each in self.told
            if not each.farm and self._of_a_right_one(each)
        }
        days = self.play.day - self.first_day
        whole = sum(
            max(0, min(days, (h.planted.day if h.planted.kind != "none" else days) - self.first_day)) for h in own
        )
        return Counter(kind for _, kind, _ in asked), whole / 30

    def changed_blocks(self) -> int:
        """How often a block was told whose latex did change: once a farm and month."""
        return len({(each.farm, each.day // 30) for each in self.told if each.farm and self._jumped(each)})

    def _causeless(self, each: Told) -> bool:
        plan = self._holding(each.farm).planted
        if self._jumped(each) or (plan.kind != "none" and each.day > plan.day):
            return False
        return not (
            each.kind in OF_WEIGHTS
            and any(each.day > driver.planted.day and each.farm in self._served(driver) for driver in self._low())
        )

    def _of_a_right_one(self, each: Told) -> bool:
        """Whether the balance that is told among all of them reads true."""
        keys = self._keys()
        low = [keys[driver.who.name] for driver in self._low() if each.day > driver.planted.day]
        homes = [h for h in self.play.one.holdings if h.planted.who == HOME and each.day > h.planted.day]
        return not any(each.key in own for own in (*low, *(keys[holding.name] for holding in homes)))

    def _jumped(self, each: Told) -> bool:
        """Whether it is a block whose latex changed in the days that were looked at, or so shortly before that its sheets dried."""
        jumped = self._holding(each.farm).land.jumps.get(each.key) if each.kind == By.BLOCK.value else None
        return jumped is not None and jumped < each.day <= jumped + SPAN.days + DRIES

    def _holding(self, name: str) -> Holding:
        return next(each for each in self.play.one.holdings if each.name == name)

    def _low(self) -> list[Driver]:
        return [each for each in self.play.one.drivers if each.planted.kind == "balance"]

    def _served(self, driver: Driver) -> set[str]:
        return {each.name for each in self.play.one.holdings if each.place in driver.stops}
