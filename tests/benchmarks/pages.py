"""What the owner's pages cost with years of books.

    python tests/benchmarks/pages.py [YEARS ...]

Grows a farm of ten tappers for so many years (see `grown`; with terms of pay and a settlement of everybody each month),
then prints what every page costs over the real application: the first look, when nothing is learned or kept in memory; the
median of looks each of which comes after a new line with a hydrometer reading; the median and the worst of more looks without
one, in milliseconds of the processor, and their median by the clock.
"""

import sys
import tempfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.app import create_app
from bot.books import Books, entries, farms, messages, open_books, people
from bot.books.ids import new_id
from bot.books.model import Farm, Person
from bot.pages import links
from bot.settings import Settings
from parsers.reading import Record, Role, What
from tests.benchmarks.grown import grow

NOW = datetime(2026, 3, 16, 2, 0, tzinfo=UTC)
TIMES, NEWS = 15, 5


def main(years: list[int]) -> None:
    print(f"{'page':16}  first    news  median   worst of {TIMES}   median by the clock, ms")
    for each in years:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder), each)


def measure(folder: Path, years: int) -> None:
    books = open_books(folder / "books.sqlite")
    last = NOW.date() - timedelta(days=1)
    grow(books, 1, last - timedelta(days=365 * years - 1), last, paid=True)
    settings = Settings(folder / "books.sqlite", link_key="a key for the benchmark")
    client = create_app(settings, books, lambda: NOW).test_client()
    with books.transaction() as tx:
        farm = farms.all_farms(tx)[0]
        members = people.members(tx, farm.id)
        count = len(entries.standing(tx, farm.id))
    owner = next(each.person for each in members if each.role is Role.OWNER)
    tapper = next(each.person for each in members if each.role is Role.TAPPER)
    path = links.path(settings, farm.id, owner.id)
    print(f"{years} years, {count} lines")
    old = (last - timedelta(days=180)).isoformat()
    for page in (
        "",
        f"?of={old}",
        "/block/1",
        f"/tapper/{tapper.id}",
        "/chain",
        "/stock",
        "/pay",
        "/settings",
        "/papers",
    ):
        first, _ = _get(client, path + page)
        after = []
        for _ in range(NEWS):
            enter(books, farm, tapper)
            after.append(_get(client, path + page)[0])
        cpu, clock = zip(*(_get(client, path + page) for _ in range(TIMES)), strict=True)
        shown = page.replace(tapper.id, "ID") or "the week"
        print(
            f"{shown:16} {first:6.1f}  {median(after):6.1f}  {median(cpu):6.1f}  {max(cpu):6.1f}   {median(clock):6.1f}",
            flush=True,
        )
    books.close()


def enter(books: Books, farm: Farm, by: Person) -> None:
    """A line of today's latex that teaches."""
    record = Record(What.LATEX, NOW.date(), "1", Decimal(16), drc=Decimal(33))
    with books.transaction() as tx:
        text = new_id()
        messages.receive(
            tx, message_id=text, carrier="practice", number=by.number, text="1 16 drc 33", at=NOW, arrived=NOW
        )
        entries.enter(tx, farm_id=farm.id, message_id=text, by=by, via=None, record=record, entered_at=NOW)


def _get(client, path: str) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    """Milliseconds of the processor and by the clock."""
    cpu, clock = process_time(), perf_counter()
    response = client.get(path)
    took = 1000 * (process_time() - cpu), 1000 * (perf_counter() - clock)
    assert response.status_code == 200, (path, response.status_code)
    return took


if __name__ == "__main__":
    main([int(each) for each in sys.argv[1:]] or [1, 2, 5])
