"""What the weekly texts cost, and how the cost grows with farms and with years.

    python tests/benchmarks/weekly.py [--farms N ...] [--years N ...] [--keep FOLDER]

For each size the books are grown anew (farms of ten tappers, see `grown`), and two weeks are run as the timer runs them,
each in a process of its own. The first week finds nothing learned, so that all years are read; then a week of lines is
entered as texts are, and the second run is what every later week costs. Printed are seconds of the processor and by the
clock, milliseconds a farm, and the most memory that the process held, in MB.

By default: 1, 10, 100 and 1,000 farms with two years; one farm with 1, 2, 5 and 10 years.
"""

import argparse
import multiprocessing
import resource
import sys
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.books import Books, open_books
from bot.jobs import run_due
from tests.benchmarks.grown import go_on, grow

#: A Sunday, and the moment at which the texts of its week are due everywhere.
SUNDAY = date(2026, 3, 15)
DUE = datetime(2026, 3, 15, 12, 0, tzinfo=UTC)
WEEK = timedelta(days=7)


def main() -> None:
    about = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    about.add_argument("--farms", type=int, nargs="*", default=[1, 10, 100, 1000])
    about.add_argument("--years", type=int, nargs="*", default=[1, 2, 5, 10])
    about.add_argument("--keep", type=Path, help="a folder where grown books are kept and found again")
    asked = about.parse_args()
    print(f"{'farms':>5} {'years':>5} {'lines':>9}  week    cpu s   clock s  ms a farm  peak MB", flush=True)
    sizes = [(farms, 2) for farms in asked.farms] + [(1, years) for years in asked.years if years != 2]
    for farms, years in sizes:
        with tempfile.TemporaryDirectory() as folder:
            measure(asked.keep or Path(folder), farms, years)


def measure(folder: Path, farms: int, years: int) -> None:
    """Grow the books of that size and run two weeks."""
    path, first = folder / f"{farms}-farms-{years}-years.sqlite", SUNDAY - timedelta(days=365 * years - 1)
    if not path.exists():
        apart(_grow, path, farms, first)
    lines = apart(_lines, path)
    _show(farms, years, lines, "first", apart(_week, path, DUE - WEEK))
    apart(_go_on, path, first)
    _show(farms, years, apart(_lines, path), "later", apart(_week, path, DUE))


def _show(farms: int, years: int, lines: int, week: str, found: tuple[float, float, float, int]) -> None:
    cpu, clock, peak, written = found
    each = 1000 * cpu / max(written, 1)
    print(f"{farms:>5} {years:>5} {lines:>9}  {week} {cpu:8.2f} {clock:9.2f} {each:10.1f} {peak:8.0f}", flush=True)


def apart(work, *about):  # type: ignore[no-untyped-def]
    """Do the work in a fresh process, so that memory and what was learned are its own."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, about)


def _grow(path: Path, farms: int, first: date) -> None:
    books = _quick(path)
    grow(books, farms, first, SUNDAY, until=SUNDAY - WEEK)
    books.close()


def _go_on(path: Path, first: date) -> None:
    books = _quick(path)
    go_on(books, first, SUNDAY, SUNDAY - WEEK + timedelta(days=1))
    books.close()


def _quick(path: Path) -> Books:
    """Books whose growing does not wait for the disk."""
    books = open_books(path)
    with books.engine.session() as session:
        session.execute("pragma synchronous = off")
    return books


def _lines(path: Path) -> int:
    books = open_books(path)
    with books.engine.session() as session:
        found = session.execute("select count(*) as n from entries")[0]["n"]
    books.close()
    return int(found)


def _week(path: Path, moment: datetime) -> tuple[float, float, float, int]:
    """Seconds of the processor and by the clock, the most memory in MB, and the texts written."""
    books = open_books(path)
    cpu, clock = process_time(), perf_counter()
    written = run_due(books, moment, None).written
    cpu, clock = process_time() - cpu, perf_counter() - clock
    books.close()
    return cpu, clock, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, written


if __name__ == "__main__":
    main()
