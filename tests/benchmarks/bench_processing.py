"""How long a dose, one update of the estimate and the refit of a year take.

    python tests/benchmarks/bench_processing.py

The year is that of a farm of forty blocks, each tapped every third day by one of ten tappers: a batch a tapper and day,
weighed and entered, and a hydrometer reading a block and week.
"""

import sys
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from random import Random
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.rubber.coagulation import dose
from bot.rubber.estimate import Batch, Event, Latex, Reading, expect, refit
from bot.rubber.latex import dry_kg_from_litres

FIRST = date(2026, 1, 1)
BLOCKS, TAPPERS, EVERY = 40, 10, 3


def year(seed: int = 1, blocks: int = BLOCKS) -> list[Event]:
    """A year of weighed batches and readings."""
    random = Random(seed)
    base = {str(block): random.gauss(33, 2.5) for block in range(blocks)}
    events: list[Event] = []
    for number in range(365):
        today = FIRST + timedelta(days=number)
        wet = random.random() < 0.2
        for tapper in range(min(TAPPERS, blocks)):
            own = [str(block) for block in range(tapper, blocks, TAPPERS) if (block + number) % EVERY == 0]
            latex = tuple(Latex(today, block, random.uniform(10, 25), wet) for block in own)
            if latex:
                kg = sum(dry_kg_from_litres(each.litres, base[each.block] + random.gauss(0, 1.5)) for each in latex)
                events.append(Batch(f"{number} {tapper}", latex, kg))
            events += [
                Reading(f"{number} {each.block}", each, base[each.block] + random.gauss(1, 2), instrument=str(tapper))
                for each in latex
                if random.random() < EVERY / 7
            ]
    return events


def microseconds(work: Callable[[], object], times: int) -> float:
    """The shortest of five runs, microseconds a time."""
    best = float("inf")
    for _ in range(5):
        start = perf_counter()
        for _ in range(times):
            work()
        best = min(best, (perf_counter() - start) / times)
    return best * 1e6


def main() -> None:
    """Print the figures."""
    events = year()
    learned = refit(events)
    today = FIRST + timedelta(days=365)
    batch = [Latex(today, "3", 18), Latex(today, "5", 12)]
    small = year(blocks=3)
    print(f"a dose                                  {microseconds(lambda: dose(18), 5000):8.1f} us")
    print(f"a forecast, {BLOCKS} blocks                    {microseconds(lambda: expect(learned, batch), 300):8.1f} us")
    whole = microseconds(lambda: refit(events), 1)
    print(f"one update, {BLOCKS} blocks                    {whole / len(events):8.1f} us")
    print(f"a year's refit, {BLOCKS} blocks, {len(events)} events   {whole / 1e6:8.3f} s")
    whole = microseconds(lambda: refit(small), 1)
    print(f"one update, 3 blocks                    {whole / len(small):8.1f} us")
    print(f"a year's refit, 3 blocks, {len(small)} events    {whole / 1e6:8.3f} s")


if __name__ == "__main__":
    main()
