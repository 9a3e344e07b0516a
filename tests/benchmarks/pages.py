"""What the owner's pages and the weekly texts cost with years of books.

    python tests/benchmarks/pages.py [YEARS ...]

Plays the demonstration's three farms for so many years through the real talk, then prints the median and worst time of
every page of one farm over the real application, and of one run of the weekly texts for all owners.
"""

import sys
import tempfile
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path
from statistics import median
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.app import create_app
from bot.books import Books, entries, farms, open_books, people
from bot.jobs import run_due
from bot.pages import links
from bot.settings import Settings
from parsers.reading import Role

demonstration = import_module("bot.demonstration.fill")  # the package offers the function of this name

NOW = datetime(2026, 3, 16, 2, 0, tzinfo=UTC)
TIMES = 15
PAGES = ("", "/chain", "/stock", "/pay", "/papers")


def main(years: list[int]) -> None:
    print(f"{'years':>5} {'entries':>8}  page: median / worst of {TIMES} in ms; weekly texts: ms for each owner")
    for each in years:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder), each)


def measure(folder: Path, years: int) -> None:
    books = open_books(folder / "books.sqlite")
    demonstration.DAYS = 365 * years  # type: ignore[attr-defined]
    demonstration.fill(books, NOW)
    settings = Settings(folder / "books.sqlite", link_key="a key for the benchmark")
    client = create_app(settings, books, lambda: NOW).test_client()
    with books.transaction() as tx:
        farm = farms.all_farms(tx)[0]
        owner = next(each.person for each in people.members(tx, farm.id) if each.role is Role.OWNER)
        block = next(iter(farms.blocks(tx, farm.id)))
        count = sum(len(entries.standing(tx, each.id)) for each in farms.all_farms(tx))
    path = links.path(settings, farm.id, owner.id)
    shown = []
    for page in (*PAGES, f"/block/{block}"):
        times = [_get(client, path + page) for _ in range(TIMES)]
        shown.append(f"{page or '/week'} {median(times):.1f}/{max(times):.1f}")
    print(f"{years:>5} {count:>8}  {', '.join(shown)}; {_weekly(books):.1f}", flush=True)
    books.close()


def _get(client, path: str) -> float:  # type: ignore[no-untyped-def]
    start = perf_counter()
    response = client.get(path)
    took = 1000 * (perf_counter() - start)
    assert response.status_code == 200, (path, response.status_code)
    return took


def _weekly(books: Books) -> float:
    start = perf_counter()
    written = run_due(books, NOW + timedelta(days=7), None).written
    return 1000 * (perf_counter() - start) / max(written, 1)


if __name__ == "__main__":
    main([int(each) for each in sys.argv[1:]] or [1, 2, 5])
