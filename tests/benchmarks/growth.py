"""What a text, a page and a weekly text cost as farms and years grow.

    python tests/benchmarks/growth.py [--farms 1 10 100 1000] [--years 2 5 10]

Each farm has an owner, two tappers, a collector and four blocks, of which two are tapped on each of six days a week. Rows go in through the
store's own sessions, as they stand after years; then the real application is asked, at farms spread over the books. Shown are
milliseconds of the processor (medians), which other programs on the machine disturb least, and megabytes of the file.
Farms grow with one year of books, years with ten farms.
"""

import argparse
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from statistics import median
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.app import create_app
from bot.books import Books, entries, farms, open_books, people
from bot.books.convert import moment_out, record_out
from bot.books.engines import Table
from bot.books.ids import new_id
from bot.carriers.practice import text_as
from bot.jobs import run_due
from bot.pages import links
from bot.reckon.batches import Drc, batch, kept
from bot.settings import Settings
from parsers.reading import Block, Record, Role, What

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
BLOCKS, TAPPERS, SAMPLES = 4, 2, 40
ENTRY = (
    "id farm_id message_id by_person via what day block ml grams drc_hundredths rain late again reason pieces sheets taken_from "
    "grade price_ten_thousandths place entered_at replaces removed confirmed computed"
)
ENTRIES = Table("entries", tuple(ENTRY.split()), frozenset(), ("id",))
MESSAGES = Table(
    "messages",
    tuple(["id", "carrier", "number", "person_id", "body", "sent_at", "arrived_at", "kind", "reply", "parts"]),
    frozenset(),
    ("id",),
)


def number(farm: int, who: int) -> str:
    """An invented phone: 0 is the owner, 1 and 2 are tappers, 3 is the collector."""
    return f"+4477009{farm:04}{who}"


def grow(books: Books, count: int, years: int) -> list[tuple[str, str]]:
    """Farms with so many years up to yesterday; the id of each with its owner's."""
    return [_farm(books, n, years) for n in range(count)]


def _farm(books: Books, n: int, years: int) -> tuple[str, str]:
    start = NOW - timedelta(days=365 * years + 1)
    names = [str(each + 1) for each in range(BLOCKS)]
    with books.transaction() as tx:
        blocks = {name: Block(280, Decimal(16)) for name in names}
        about = {"timezone": "Asia/Bangkok", "currency": "USD", "language": "en", "containers": {}, "settings": {}}
        farm = farms.add_farm(tx, name=f"Farm {n}", blocks=blocks, at=start, **about)  # type: ignore[arg-type]
        ids = []
        for who, role in enumerate([Role.OWNER, *[Role.TAPPER] * TAPPERS, Role.COLLECTOR]):
            own = tuple(names[(who - 1) * 2 : who * 2]) if role is Role.TAPPER else ()
            person = {
                "name": f"Person {n} {who}",
                "number": number(n, who),
                "language": "en",
                "role": role,
                "blocks": own,
            }
            found = people.enrol(tx, farm_id=farm.id, at=start, message_id=None, **person)  # type: ignore[arg-type]
            ids.append(found.person.id)
    made = list(_lines(farm, n, ids, start, 365 * years))
    with books.engine.session() as session:
        session.execute("begin immediate")
        session.fill(MESSAGES, (text for text, _ in made))
        session.fill(ENTRIES, (line for _, line in made))
        session.execute("commit")
    return farm.id, ids[0]


def _lines(farm: farms.Farm, n: int, ids: list[str], start: datetime, days: int) -> Iterator[tuple[tuple, tuple]]:
    for day in range(days):
        at = start + timedelta(days=day)
        for who in range(1, TAPPERS + 1) if at.weekday() < 6 else ():
            block, litres = str((who - 1) * 2 + day % 2 + 1), Decimal(12 + (day * 7 + who * 3 + n) % 9)
            record = Record(What.LATEX, at.date(), block, litres, rain=day % 11 == 0)
            text = f"grown{n}-{day}-{who}"
            moment = moment_out(at + timedelta(seconds=n % 3600))
            body, reply = f"{block} {litres}", f"B{block} today {litres} L. Water 18 L, then acid 85% 24 ml."
            known = kept(batch(record, Drc(33.0, 30.0, 36.0, "farm")), farm)
            row = record_out(record) | {
                "id": new_id(), "farm_id": farm.id, "message_id": text, "by_person": ids[who], "entered_at": moment,
                "removed": 0, "confirmed": 0, "computed": json.dumps(dict(known)), "via": None, "replaces": None,
            }  # fmt: skip
            yield (
                (text, "practice", number(n, who), ids[who], body, moment, moment, "entered", reply, 1),
                tuple(row[name] for name in ENTRIES.columns),
            )


def milliseconds(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return 1000 * (process_time() - start)


def measure(folder: Path, count: int, years: int) -> tuple[str, ...]:
    path = folder / "books.sqlite"
    books = open_books(path)
    with books.engine.session() as session:
        session.execute("pragma synchronous = off")  # growing and measuring without the disk
    grown = grow(books, count, years)
    settings = Settings(path, link_key="a key for the benchmark")
    client = create_app(settings, books, lambda: NOW).test_client()
    chosen = [n * count // SAMPLES % count for n in range(SAMPLES)]
    texts, questions, takes, pages = [], [], [], []
    for turn, n in enumerate(chosen):
        at = NOW + timedelta(days=turn // count)  # where farms are few, each text has a day of its own
        texts.append(milliseconds(lambda n=n, at=at: text_as(books, number(n, 1), "block 1 15 litres", at)))
        questions.append(milliseconds(lambda n=n: text_as(books, number(n, 2), "acid for 22 l?", NOW)))
        taken = f"took 6 sheets {3 + turn / 100:.2f} kg"
        takes.append(milliseconds(lambda n=n, at=at, taken=taken: text_as(books, number(n, 3), taken, at)))
        link = links.path(settings, *grown[n])
        pages.append(milliseconds(lambda link=link: client.get(link)))
    with books.reading() as tx:
        lines = sum(len(entries.standing(tx, farm_id)) for farm_id, _ in grown[:1]) * count
    took: list[int] = []
    weekly = milliseconds(lambda: took.append(run_due(books, NOW + timedelta(days=5), None).written)) / max(
        1, sum(took)
    )
    books.close()
    size = path.stat().st_size / 1e6
    shown = (median(texts), median(questions), median(takes), median(pages), weekly)
    return (f"{count:,}", str(years), f"{lines:,}", f"{size:,.0f}", *(f"{each:.1f}" for each in shown))


def main() -> None:
    about = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    about.add_argument("--farms", type=int, nargs="*", default=[1, 10, 100, 1000])
    about.add_argument("--years", type=int, nargs="*", default=[2, 5, 10])
    asked = about.parse_args()
    print("| farms | years | lines | MB | a text | a question | a take | the week's page | a weekly text |")
    print("| ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    for count, years in [*((each, 1) for each in asked.farms), *((10, each) for each in asked.years)]:
        with tempfile.TemporaryDirectory() as folder:
            print("| " + " | ".join(measure(Path(folder), count, years)) + " |", flush=True)


if __name__ == "__main__":
    main()
