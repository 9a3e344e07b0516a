"""Play a whole season, or one day of a very large cooperative, and print what came of it.

    python -m tests.season                       # 50 farms, 150 days
    python -m tests.season --farms 12 --days 60 --seed 3
    python -m tests.season --large-day           # 1,000 farms, 3,000 tappers, 40 collectors, one day

Ends with 1 where the books differ from the truth.
"""

import argparse
import sys

from tests.season.cooperative import Shape
from tests.season.house import a_folder
from tests.season.large_day import large_day
from tests.season.whole import gaps_in_figures, in_figures, played

SHOWN = 40


def main() -> int:
    """Play, print, compare."""
    read = argparse.ArgumentParser(description="A season of an invented cooperative, played through the doors.")
    for name in (
        "farms",
        "days",
        "collectors",
        "seed",
        "balances",
        "buckets",
        "losses",
        "home_balances",
        "planted_from",
    ):
        read.add_argument(f"--{name.replace('_', '-')}", dest=name, type=int, default=getattr(Shape, name))
    read.add_argument("--large-day", action="store_true", help="1,000 farms, 3,000 tappers, 40 collectors, one day")
    read.add_argument("--on-disk", action="store_true", help="the books lie on the disk, not in memory")
    chosen = vars(read.parse_args())
    large, on_disk = chosen.pop("large_day"), chosen.pop("on_disk")
    with a_folder(on_disk=on_disk) as folder:
        if large:
            return large_day(folder, chosen["seed"])
        season = played(folder, Shape(**chosen))
        for line in in_figures(season):
            print(line, flush=True)
        assert season.search is not None
        for line in gaps_in_figures(season.search):
            print(line, flush=True)
        differ = season.differences()
        print(f"differences between the books and the truth: {len(differ)}")
        for line in differ[:SHOWN]:
            print(f"  {line}")
        season.play.house.close()
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
