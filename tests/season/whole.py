"""A season from its beginning to its end: played, searched for gaps, held against the truth, and told in figures."""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from random import Random

from tests.season.collectors import Collectors
from tests.season.comparing import differences
from tests.season.cooperative import Cooperative, Shape, enrolled
from tests.season.growers import Growers
from tests.season.house import House
from tests.season.managers import Managers
from tests.season.play import Play
from tests.season.searching import Search
from tests.season.tappers import Tappers


@dataclass
class Season:
    """What was played. `seconds` is how long, without `searched`, the search for gaps."""

    play: Play
    managers: Managers
    growers: Growers
    search: Search | None
    seconds: float = 0.0

    def differences(self) -> list[str]:
        """All that is not as it should be: books, money, texts that were taken otherwise than meant, faults of the doors."""
        odd = [
            f"{each.body!r} ({each.language}) is {each.outcome}, not {each.wanted}: {each.reply!r}"
            for each in self.play.odd
        ]
        return [*differences(self.play), *self.play.house.faults, *self.play.house.alarms, *odd]


def begun(folder: Path, shape: Shape, *, searched: bool = True) -> Season:
    """A season before its first day."""
    one, house = Cooperative(shape), House(folder)
    house.books.run_transaction(lambda tx: enrolled(tx, one))
    play = Play(one, house, Random(shape.seed))
    managers = Managers(play)
    tappers, collectors = Tappers(play), Collectors(play)
    growers = Growers(play, tappers, collectors)
    return Season(play, managers, growers, Search(play) if searched else None)


def played(folder: Path, shape: Shape, *, searched: bool = True) -> Season:
    """A whole season. Its books stay open: close `play.house`."""
    season = begun(folder, shape, searched=searched)
    start = time.perf_counter()
    season.play.play(shape.days)
    season.play.finish()
    season.seconds = time.perf_counter() - start
    return season


def in_figures(season: Season) -> Iterator[str]:
    """What was played, in lines."""
    play, house, shape = season.play, season.play.house, season.play.one.shape
    takings = play.ledger.takings
    kilos = sum((each.net_kg for each in takings), Decimal(0))
    money = sum((each.amount for each in takings if each.amount is not None), Decimal(0))
    paid = sum((each.paid for each in play.ledger.payments), Decimal(0))
    yield f"{shape.farms} farms, {shape.collectors} collectors, {shape.days} days, seed {shape.seed}"
    yield f"texts in: {sum(house.came.values())} ({', '.join(f'{k} {n}' for k, n in house.came.most_common())})"
    yield f"texts out beside answers: {len(house.fetched)}; parts out with answers: {house.parts_out}"
    yield f"lines of farms: {sum(play.ledger.lines.values())}; receipts: {len(takings)}, {kilos} kg, {money} USD"
    yield f"pay settled: {len(play.ledger.payments)} times, {paid} USD; closings {season.managers.closings}, pages {season.managers.pages}"
    yield f"slips: {', '.join(f'{name} {n}' for name, n in play.slips.most_common())}"
    yield f"played in {season.seconds:.0f} s"


def gaps_in_figures(search: Search) -> Iterator[str]:
    """The planted gaps: how many were found, how soon; and false alarms."""
    kinds: dict[str, list[int | None]] = {}
    for each in search.found():
        kinds.setdefault(f"{each.what}, {each.percent:.0f} %", []).append(each.weeks)
        when = "never" if each.weeks is None else f"week {each.weeks}"
        yield f"  {each.what} of {each.where}, {each.percent:.0f} % from day {each.begun}: {when}"
    for what, weeks in kinds.items():
        soon = sorted(each for each in weeks if each is not None)
        yield f"{what}: {len(soon)} of {len(weeks)} found; in weeks {soon}"
    alarms, months = search.false_alarms()
    rate = sum(alarms.values()) / months if months else 0.0
    yield f"false alarms: {sum(alarms.values())} in {months:.0f} farm-months, {rate:.3f} a farm and month {dict(alarms)}"
    yield f"blocks told whose latex did change: {search.changed_blocks()}, once a farm and month"
