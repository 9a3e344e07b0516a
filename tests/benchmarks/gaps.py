"""How many planted gaps are found, how soon, and how often honest farms are asked: `python -m tests.benchmarks.gaps 100`.

Simulated books of 150 days (`tests/reckon/simulated_books.py`); gaps begin on day 75. Every ten days the last 60 are looked at
by tapper, block, balance and farm, and the sheets are counted. Found is a gap that is told of the kind that was planted.
"""

import sys
from collections import Counter
from collections.abc import Callable
from datetime import timedelta

from bot.books.model import Farm, FarmSettings
from bot.reckon import gaps
from bot.reckon.weighed import By
from tests.reckon.simulated_books import FIRST, NAME, Planted, a_book

FARM = Farm("f1", NAME, "UTC", "USD", "en", FarmSettings())
BEGINS, DAYS, STEP, SPAN = 75, 150, 10, 60
SHEETS = "sheets"

#: What should show each kind of gap.
SHOWS = {"bucket": By.TAPPER, "balance": By.BALANCE, "lost": SHEETS}

PLANTED: dict[str, Callable[[int], Planted]] = {
    **{
        f"bucket {percent} %": lambda n, part=percent: Planted("bucket", ("Yaw", "Ama")[n % 2], part / 100, BEGINS)
        for percent in (10, 15, 20, 30)
    },
    **{
        f"collector's balance {percent} %": lambda n, part=percent: Planted(
            "balance", ("Mara", "Nuno")[n % 2], part / 100, BEGINS
        )
        for percent in (3, 5, 8)
    },
    "balance at home 5 %": lambda _n: Planted("balance", "home", 0.05, BEGINS),
    **{
        f"sheets lost {percent} %": lambda _n, part=percent: Planted("lost", "", part / 100, BEGINS)
        for percent in (3, 5, 10)
    },
}


def told(seed: int, planted: Planted) -> tuple[bool, list[tuple[int, str]]]:
    """Whether the farm has a balance at home, and what is told on which day."""
    book = a_book(seed, planted, DAYS)
    found = []
    for day in range(SPAN - 1, DAYS, STEP):
        last = FIRST + timedelta(days=day)
        seen = gaps.of_entries(book.until(day), FARM, last - timedelta(days=SPAN - 1), last)
        for by in (By.TAPPER, By.BLOCK, By.BALANCE, By.FARM):
            found += [(day, by.value) for row in gaps.by_key(seen, by) if row.told]
        if gaps.finished(seen).told:
            found.append((day, SHEETS))
    return book.home, found


def main(farms: int) -> None:
    months = farms * (DAYS - SPAN) / 30
    asked: Counter[str] = Counter()
    for seed in range(farms):
        for _, by in {(day // 30, by) for day, by in told(1000 + seed, Planted())[1]}:
            asked[by] += 1
    print(
        f"honest farms: asked {dict(asked)} in {months:.0f} farm-months: {sum(asked.values()) / months:.3f} a farm and month"
    )
    for name, plant in PLANTED.items():
        by_home: dict[bool, list[int | None]] = {True: [], False: []}
        for seed in range(farms):
            planted = plant(seed)
            home, found = told(seed, planted)
            days = [day - BEGINS for day, by in found if by == SHOWS[planted.kind] and day > BEGINS]
            by_home[home].append(min(days, default=None))
        for home, days in by_home.items():
            if "at home" in name and not home:
                continue
            soon = sorted(each for each in days if each is not None)
            middle = f", half of them within {soon[len(soon) // 2]} days" if soon else ""
            where = "with" if home else "without"
            print(f"{name}, {where} a balance at home: {len(soon)} of {len(days)} found{middle}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
