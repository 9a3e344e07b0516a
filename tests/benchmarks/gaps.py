"""How large a gap is seen how soon on one farm, and how often honest farms are asked: `python -m tests.benchmarks.gaps 60`.

Simulated books of 150 days (`tests/reckon/simulated_books.py`); gaps begin on day 75. At the end of each week it is looked at what is
unusual of late, by tapper, block, balance and farm, and in the counts of sheets. Found is a gap that is told of the kind that was
planted, by the name of whoever has it; a balance by any of those that were compared, since one farm cannot tell them apart.
"""

import sys
from collections import Counter
from datetime import timedelta

from bot.books.model import Farm, FarmSettings
from bot.reckon import gaps
from bot.reckon.lately import by_key_lately, finished_lately
from bot.reckon.weighed import By
from tests.reckon.simulated_books import FIRST, NAME, Planted, a_book

FARM = Farm("f1", NAME, "UTC", "USD", "en", FarmSettings())
BEGINS, DAYS, STEP, SPAN = 75, 150, 7, 60
WEEKS = (2, 4, 6, 10)
SHEETS = "sheets"
KINDS = (By.TAPPER, By.BLOCK, By.BALANCE, By.FARM)

TAPPERS, COLLECTORS = ("Yaw", "Ama"), ("Mara", "Nuno")
SIZES = {
    "a bucket that holds less": ("bucket", TAPPERS, (10, 15, 20, 30)),
    "a collector's balance low": ("balance", COLLECTORS, (3, 5, 8)),
    "the balance at home low": ("balance", ("home",), (3, 5, 8)),
    "sheets that vanish": ("lost", ("",), (3, 5, 8)),
    "no gap: a tapper's trees give more": ("trees", TAPPERS, (-20, -40)),
}
Told = list[tuple[int, str, str]]


def told(seed: int, planted: Planted) -> tuple[bool, Told]:
    """Whether the farm has a balance at home, and what is told on which day: of which kind, with whom it lies."""
    book = a_book(seed, planted, DAYS)
    found: Told = []
    for day in range(SPAN - 4, DAYS, STEP):
        last = FIRST + timedelta(days=day)
        seen = gaps.of_entries(book.until(day), FARM, last - timedelta(days=SPAN - 1), last)
        for by in KINDS:
            found += [(day, by.value, row.key) for row in by_key_lately(seen, by) if row.told]
        if finished_lately(seen).told:
            found.append((day, SHEETS, ""))
    return book.home, found


def shows(planted: Planted, kind: str, key: str) -> bool:
    """Whether what is told is what was planted; of trees that give more, whether a tapper is named."""
    if planted.kind == "lost":
        return kind == SHEETS
    if planted.kind == "balance":
        return kind == By.BALANCE.value
    return kind == By.TAPPER.value and key == planted.who.lower()


def honest(farms: int) -> str:
    """How often farms without a gap are asked: once a kind and month."""
    months = farms * (DAYS - SPAN) / 30
    asked: Counter[str] = Counter()
    for seed in range(farms):
        for _, kind in {(day // 30, kind) for day, kind, _ in told(1000 + seed, Planted())[1]}:
            asked[kind] += 1
    rate = sum(asked.values()) / months
    return f"asked without cause: {rate:.3f} a farm and month ({dict(asked)} in {months:.0f} farm-months)"


def of_size(farms: int, kind: str, who: tuple[str, ...], percent: int) -> dict[bool, list[int | None]]:
    """Days until the gap was told (None: never), for farms with and without a balance at home."""
    days: dict[bool, list[int | None]] = {True: [], False: []}
    for seed in range(farms):
        planted = Planted(kind, who[seed % len(who)], percent / 100, BEGINS)
        home, found = told(seed, planted)
        days[home].append(
            min((day - BEGINS for day, *what in found if day > BEGINS and shows(planted, *what)), default=None)
        )
    return days


def main(farms: int) -> None:
    print(honest(farms))
    print(f"| planted | % | balance at home | farms | {' | '.join(f'in {weeks} weeks' for weeks in WEEKS)} |")
    print(f"| --- | ---: | --- | ---: |{' ---: |' * len(WEEKS)}")
    for name, (kind, who, sizes) in SIZES.items():
        for percent in sizes:
            for home, days in of_size(farms, kind, who, percent).items():
                if home or who != ("home",):
                    cells = (str(sum(each is not None and each <= 7 * weeks for each in days)) for weeks in WEEKS)
                    print(
                        f"| {name} | {abs(percent)} | {'yes' if home else 'no'} | {len(days)} | {' | '.join(cells)} |",
                        flush=True,
                    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
