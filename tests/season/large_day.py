"""One day of a cooperative of 1,000 farms with 3,000 tappers and 40 collectors: how long it takes to play."""

import time
from pathlib import Path

from tests.season.cooperative import Shape
from tests.season.whole import Season, begun, in_figures

FARMS, TAPPERS, COLLECTORS = 1000, 3, 40

#: Days of rolling before it, so that there is something to take: the sheets that come down dry on the day.
BEFORE = 8


def large_day(folder: Path, seed: int) -> int:
    """Play the day and print its figures; 1 where the books differ from the truth."""
    shape = Shape(
        FARMS,
        7,
        COLLECTORS,
        TAPPERS,
        seed,
        balances=0,
        buckets=0,
        losses=0,
        home_balances=0,
        lost_phones=0,
        leavers=0,
        every_day=True,
        pays=False,
    )
    season = begun(folder, shape, searched=False)
    _hang(season)
    start, worked = time.perf_counter(), time.process_time()
    season.play.play(1)
    season.seconds = time.perf_counter() - start
    worked = time.process_time() - worked
    for line in in_figures(season):
        print(line, flush=True)
    texts = sum(season.play.house.came.values()) + len(season.play.house.fetched)
    print(
        f"{1000 * season.seconds / texts:.1f} ms a text in or out by the clock, {1000 * worked / texts:.1f} by the processor"
    )
    season.play.finish()
    differ = season.differences()
    print(f"differences between the books and the truth: {len(differ)}")
    for line in differ[:20]:
        print(f"  {line}")
    season.play.house.close()
    return 1 if differ else 0


def _hang(season: Season) -> None:
    """Sheets of a week before hang in every drying-house. Nobody texted of them: they are from before the book was begun."""
    for holding in season.play.one.holdings:
        if holding.sells == "sheets":
            for day in range(-BEFORE, -5):
                holding.land.hanging.append((day, [0.5] * season.play.dice.randrange(8, 20)))
