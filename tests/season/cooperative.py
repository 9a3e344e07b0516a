"""The invented cooperative of a season: farms, people, places, rounds, and the gaps that are planted. Everything follows from the seed."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import product
from random import Random
from zoneinfo import ZoneInfo

from bot.books import Transaction, cooperatives, farms, people, places
from parsers.reading import Block, Role
from tests.reckon.simulated_books import Planted
from tests.season.land import Land
from tests.season.wording import LANGUAGES, OF_COLLECTORS

ZONE = ZoneInfo("Asia/Bangkok")

#: A Monday.
FIRST = date(2026, 1, 5)
NAME, CURRENCY = "Three Hills", "USD"
PRICES = {"RSS3": "1.55", "RSS4": "1.40", "latex": "1.2", "lump": "0.8"}
FARMS_A_PLACE = 5

#: What is planted is of a size that shows (DEVELOPERS.md has how large a gap shows how soon): a bucket by so much less where each
#: day's sheets are weighed at home, and where a collector alone weighs them; a balance at home; sheets.
BUCKET, BUCKET_UNWEIGHED, HOME_BALANCE, LOST = 0.2, 0.3, 0.05, 0.08

_SOUNDS = [a + b for a, b in product("bdfgjklmnprstv", "aeiou")]
_FARM = (
    ("Amber", "Cedar", "Dusk", "Heron", "Iron", "Juniper", "Larch", "Marble", "Otter", "Quail"),
    ("Ridge", "Hollow", "Bend", "Meadow", "Ferry"),
    ("", "Far", "Great", "Little", "North", "South", "Upper", "Nether", "Outer", "Inner", "Twin", "Long", "Broad", "Stone",
     "Green", "Red", "Black", "White", "Silver", "Golden"),
)  # fmt: skip
_PLACE = (
    ("Gate", "Landing", "Wharf", "Shed", "Arch"),
    ("Mill", "Salt", "Cork", "Bridge", "Chapel", "Orchard", "Harbour", "Market", "Tower", "Well", "Barrow", "Canal",
     "Lantern", "Saddle", "Anchor", "Copper", "Velvet", "Raven", "Willow", "Saffron", "Thistle", "Walnut", "Falcon", "Badger",
     "Hazel", "Linen", "Pepper", "Cobble", "Garnet", "Tulip", "Beacon", "Candle", "Ember", "Fennel", "Ginger", "Hammer",
     "Ivory", "Jasper", "Kettle", "Lemon"),
)  # fmt: skip


@dataclass
class Someone:
    """Somebody with a phone, a language, and a bent for slips (1 is the usual one)."""

    name: str
    number: str
    language: str
    slips: float = 1.0


@dataclass
class Holding:
    """A farm of the cooperative. `pay` is what its owner pays his tappers: `day`, `share`, or nothing by the book."""

    name: str
    owner: Someone
    tappers: list[Someone]
    land: Land
    sells: str
    pay: str
    planted: Planted
    place: int = 0

    def tapper(self, name: str) -> Someone:
        """A tapper by his name, with the phone that he has now."""
        return next(each for each in self.tappers if each.name == name)


@dataclass
class Driver:
    """A collector: his balance (a right one shows 1), and on which weekdays he is at which places."""

    who: Someone
    scale: float
    planted: Planted
    rounds: dict[int, list[int]] = field(default_factory=dict)
    stops: list[int] = field(default_factory=list)


@dataclass
class Shape:
    """How large the cooperative is, how long it is played, and how many gaps are planted, from which day on.

    With `every_day` all blocks are tapped and all places visited each day, by one of their collectors.
    """

    farms: int = 50
    days: int = 150
    collectors: int = 4
    tappers: int = 2
    seed: int = 1
    balances: int = 1
    buckets: int = 6
    losses: int = 4
    home_balances: int = 3
    planted_from: int = 60
    lost_phones: int = 3
    leavers: int = 3
    slips: float = 1.0
    pay_period: str = "month"
    every_day: bool = False
    pays: bool = True


class Cooperative:
    """The cooperative as its people know it."""

    def __init__(self, shape: Shape) -> None:
        self.shape, self.dice = shape, Random(shape.seed)
        self._numbers = iter(range(10**6))
        self._names = self._all_names()
        self.manager = self.someone("en")
        plans = self._plans()
        self.holdings = [self._holding(n, plans[n]) for n in range(shape.farms)]
        self.places = [self._place_name(n) for n in range(-(-shape.farms // FARMS_A_PLACE))]
        self.drivers = [self._driver(n) for n in range(shape.collectors)]
        self._lay_rounds()

    def _all_names(self) -> Iterator[str]:
        names = ["".join(each).title() for each in product(_SOUNDS[::3], _SOUNDS[1::3], _SOUNDS[2::5])]
        self.dice.shuffle(names)
        return iter(names)

    def someone(self, language: str | None = None) -> Someone:
        """Somebody new."""
        language = language or self.dice.choice(LANGUAGES)
        slips = self.shape.slips * self.dice.choice((0.5, 1.0, 1.0, 2.0))
        return Someone(next(self._names), self.number(), language, slips)

    def number(self) -> str:
        """A phone number that nobody has."""
        return f"+447701{next(self._numbers):06}"

    def _plans(self) -> list[Planted]:
        """Which gap each farm has; farms that sell no sheets have none."""
        shape = self.shape
        kinds = ["bucket"] * shape.buckets + ["lost"] * shape.losses + ["home"] * shape.home_balances
        sheets = [n for n in range(shape.farms) if self.sells(n) == "sheets"]
        chosen = dict(zip(self.dice.sample(sheets, min(len(kinds), len(sheets))), kinds, strict=False))
        return [self._plan(chosen.get(n, "none")) for n in range(shape.farms)]

    def _plan(self, kind: str) -> Planted:
        start = self.shape.planted_from + self.dice.randrange(10)
        if kind == "home":
            return Planted("balance", "home", HOME_BALANCE, start)
        return Planted(kind, "", {"bucket": BUCKET, "lost": LOST, "none": 0.0}[kind], start)

    @staticmethod
    def sells(n: int) -> str:
        """What a farm sells: most of them sheets."""
        return {4: "lump", 9: "latex"}.get(n % 12, "sheets")

    def _holding(self, n: int, plan: Planted) -> Holding:
        dice = self.dice
        language = dice.choice(LANGUAGES)
        count = 1 if self.shape.tappers < 3 and n % 7 == 3 and plan.kind != "bucket" else self.shape.tappers
        tappers = [self.someone(language if dice.random() < 0.7 else None) for _ in range(count)]
        blocks = max(count, dice.randrange(3, 6))
        own = {
            each.name: tuple(str(b + 1) for b in range(blocks) if b * count // blocks == k)
            for k, each in enumerate(tappers)
        }
        if plan.kind == "bucket":
            plan = Planted("bucket", dice.choice(tappers).name, plan.fraction, plan.day)
        home = plan.who == "home" or dice.random() < 0.6
        if plan.kind == "bucket" and not home:
            plan = replace(plan, fraction=BUCKET_UNWEIGHED)
        each_day = self.shape.every_day
        land = Land(Random(dice.random()), own, home=home, planted=plan, days=self.shape.days, every_day=each_day)
        pay = "" if not self.shape.pays else "share" if count == 1 else "day" if n % 2 else ""
        return Holding(
            self._farm_name(n), self.someone(language), tappers, land, self.sells(n), pay, plan, n // FARMS_A_PLACE
        )

    def _farm_name(self, n: int) -> str:
        first, second, before = _FARM
        k, rest = divmod(n, len(first) * len(second))
        return f"{before[k]} {first[rest % 10]} {second[rest // 10]}".strip()

    def _place_name(self, n: int) -> str:
        second, first = _PLACE
        return f"{first[n % len(first)]} {second[(n + n // len(first)) % len(second)]}"

    def _driver(self, n: int) -> Driver:
        who = self.someone(self.dice.choice(OF_COLLECTORS))
        low = n < self.shape.balances
        fraction = self.dice.uniform(0.04, 0.06) if low else 0.0
        planted = Planted("balance" if low else "none", who.number, fraction, self.shape.planted_from)
        return Driver(who, 1 + self.dice.gauss(0, 0.005), planted)

    def _lay_rounds(self) -> None:
        """Places are shared by two collectors each, who come on different weekdays (Monday to Saturday)."""
        pairs = max(1, len(self.drivers) // 2)
        for n in range(len(self.places)):
            pair, turn = n % pairs, n // pairs
            both = self.drivers[2 * pair : 2 * pair + 2]
            for k, driver in enumerate(both):
                driver.stops.append(n)
                days = range(6) if self.shape.every_day else [(turn + 3 * k) % 6]
                for weekday in days if not self.shape.every_day or turn % len(both) == k else ():
                    driver.rounds.setdefault(weekday, []).append(n)

    def at_place(self, n: int) -> list[Holding]:
        """The farms that bring to a place."""
        return [each for each in self.holdings if each.place == n]

    def other_at(self, driver: Driver, place: int) -> Driver | None:
        """The other collector of a place."""
        return next((each for each in self.drivers if each is not driver and place in each.stops), None)


def moment(day: date, hour: float) -> datetime:
    """An hour of the farms' clock on a day, in UTC."""
    return (datetime.combine(day, time(0), ZONE) + timedelta(hours=hour)).astimezone(UTC)


def enrolled(tx: Transaction, one: Cooperative) -> None:
    """The cooperative in empty books, with prices from the day before."""
    at = moment(FIRST - timedelta(days=1), 9)
    plain = {"timezone": ZONE.key, "currency": CURRENCY, "language": "en"}
    house = cooperatives.add(tx, name=NAME, closing_hour=19, at=at, **plain)
    for kind, price in PRICES.items():
        day = FIRST - timedelta(days=20)
        cooperatives.set_price(tx, house.id, kind, Decimal(price), day=day, at=at, message_id=None)
    ids = {each.name: _farm(tx, house.id, each, at, plain | {"pay": one.shape.pay_period}) for each in one.holdings}
    manager = people.known_as(tx, name=one.manager.name, number=one.manager.number, language="en", at=at)
    cooperatives.add_manager(tx, house.id, manager.id, at)
    stops = []
    for n, name in enumerate(one.places):
        own = [ids[each.name] for each in one.at_place(n)]
        stops.append(places.set_place(tx, house.id, name=name, number=n + 1, farm_ids=own).id)
    for driver in one.drivers:
        _driver(tx, one, driver, ids, stops, at)


def _farm(tx: Transaction, house_id: str, each: Holding, at: datetime, plain: dict[str, str]) -> str:
    blocks = {block: Block(300, each.land.usual(block)) for own in each.land.tappers.values() for block in own}
    settings = {
        "sells": each.sells,
        "reminder_hour": 14,
        "tapping": "S/2 d2 6d/7",
        "tapping_from": FIRST,
        "pay_period": plain["pay"],
    }
    plain = {name: value for name, value in plain.items() if name != "pay"}
    farm = farms.add_farm(tx, name=each.name, blocks=blocks, containers={}, settings=settings, at=at, **plain)
    cooperatives.add_farm(tx, house_id, farm.id)
    for person, role, own in [
        (each.owner, Role.OWNER, ()), *((t, Role.TAPPER, each.land.tappers[t.name]) for t in each.tappers)
    ]:  # fmt: skip
        _member(tx, person, farm.id, role, own, at)
    return farm.id


def _member(tx: Transaction, who: Someone, farm_id: str, role: Role, own: tuple[str, ...], at: datetime) -> None:
    known = {"name": who.name, "number": who.number, "language": who.language}
    people.enrol(tx, farm_id=farm_id, role=role, blocks=own, at=at, message_id=None, **known)


def _driver(
    tx: Transaction, one: Cooperative, driver: Driver, ids: dict[str, str], stops: list[str], at: datetime
) -> None:
    own = {each.name for n in driver.stops for each in one.at_place(n)}
    for name in sorted(own):
        _member(tx, driver.who, ids[name], Role.COLLECTOR, (), at)
    person = people.person_by_number(tx, driver.who.number)
    assert person is not None
    for weekday, places_ in driver.rounds.items():
        places.set_round(tx, person.id, weekday, [stops[n] for n in places_])
