"""From latex to money, step by step, with the gap of each step and of each tapper, block and balance; and where the sheets are."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, entries
from bot.pages.opening import Page
from bot.reckon import gaps
from bot.reckon.chain import taken_here
from bot.reckon.gaps import Row, Weights
from bot.reckon.learning import chain_of
from bot.reckon.wages import exponent
from bot.reckon.weighed import By
from bot.rubber.drying import Method, moisture_left, ready
from bot.rubber.money import rounded
from bot.speech.language import Tongue
from bot.week.concerns import SHEETS_DAYS, acid_days_left
from bot.week.figures import crop
from parsers.reading import What

#: Days that the chain shows.
DAYS = 60

#: Whose gaps the page shows, with the head of each table.
SHOWN = {By.TAPPER: "By tapper", By.BLOCK: "By block", By.BALANCE: "By balance"}


@dataclass(frozen=True)
class Step:
    """A row as it is written: kilos expected and found, the gap in kilos and percent, how unusual; a question where there is one."""

    name: str
    expected: str
    found: str
    gap: str
    percent: str
    unusual: str
    question: str


@dataclass(frozen=True)
class ChainSeen:
    """The chain of the last days."""

    page: Page
    first: date
    litres: str
    dry: str
    steps: tuple[Step, ...]
    tables: tuple[tuple[str, tuple[Step, ...]], ...]
    sold: str

    @property
    def questions(self) -> tuple[str, ...]:
        """What should be asked, each once."""
        every = (*self.steps, *(step for _, steps in self.tables for step in steps))
        return tuple(dict.fromkeys(step.question for step in every if step.question))


def look_at_chain(tx: Transaction, page: Page) -> ChainSeen:
    """The chain from latex to money for the last days."""
    english = page.english
    first = page.today - timedelta(days=DAYS - 1)
    seen = gaps.weights(tx, page.farm, first, page.today)
    here = [each for each in seen.look.standing if each.record.day and each.record.day >= first]
    given = crop(each for each in here if each.record.what is What.LATEX)
    money = rounded(Decimal(0), exponent(page.farm))
    for each in here:
        record = each.record
        if taken_here(record, page.farm.name) and record.kg is not None and record.price is not None:
            money += rounded(record.kg * record.price, exponent(page.farm))
    return ChainSeen(
        page,
        first,
        english.measured(given.litres),
        english.fixed(given.dry_kg, 1),
        tuple(_step(english, row) for row in gaps.steps(tx, seen)),
        tuple(_tables(english, seen)),
        f"{english.fixed(money, exponent(page.farm))} {page.farm.currency}",
    )


def _tables(english: Tongue, seen: Weights) -> list[tuple[str, tuple[Step, ...]]]:
    """A table for each kind of key of which there are several."""
    found = ((head, gaps.by_key(seen, by)) for by, head in SHOWN.items())
    return [(head, tuple(_step(english, row) for row in rows)) for head, rows in found if len(rows) > 1]


def _step(english: Tongue, row: Row) -> Step:
    if not row.count:
        return Step(row.name, "-", "-", "-", "-", "", "")
    return Step(
        row.name,
        english.fixed(row.expected_kg, 1),
        english.fixed(row.found_kg, 1),
        "-" if row.unclear else _signed(row.gap_kg),
        "-" if row.percent is None or row.unclear else _signed(row.percent),
        _unusual(english, row),
        row.question,
    )


def _unusual(english: Tongue, row: Row) -> str:
    if row.deviations is not None:
        return english.fixed(abs(row.deviations), 1)
    return "counted" if row.counted else "unclear"


def _signed(number: float) -> str:
    return f"{round(number, 1) + 0.0:+g}"


@dataclass(frozen=True)
class Hanging:
    """Sheets of one rolling that still hang: when they are ready, and the moisture that is left."""

    rolled: date
    count: int
    soonest: date
    usual: date
    latest: date
    moisture: str
    dry: bool


@dataclass(frozen=True)
class StockSeen:
    """Sheets that hang and that are in store, and acid."""

    page: Page
    hanging: tuple[Hanging, ...]
    in_store: tuple[tuple[date, int], ...]
    acid: str
    method: str


def look_at_stock(tx: Transaction, page: Page) -> StockSeen:
    """Where the sheets are, and how long the acid lasts."""
    chain, method = chain_of(tx, page.farm, page.today, page.today), Method(page.farm.settings.drying)
    hanging = []
    for each in chain.hanging:
        on = ready(each.rolling.day, method)
        left = moisture_left(method, (page.today - each.rolling.day).days)
        said = f"{page.english.number(left.usual, 1)} ({page.english.number(left.low, 1)}-{page.english.number(left.high, 1)})"
        hanging.append(
            Hanging(each.rolling.day, each.count, on.soonest, on.usual, on.latest, said, on.usual <= page.today)
        )
    days = acid_days_left(tx, page.farm, page.today)
    since, kind = page.today - timedelta(days=SHEETS_DAYS), What.ACID_STOCK
    counted = [each.record for each in entries.standing(tx, page.farm.id, first=since, last=page.today, what=kind)]
    acid = "No acid was counted in the last weeks."
    if counted and counted[-1].day is not None:
        litres = page.english.number(counted[-1].litres or 0)
        lasts = "" if days is None else f", at the pace of two weeks enough for about {days} days from today"
        acid = f"{litres} L counted on {page.english.date(counted[-1].day)}{lasts}."
    return StockSeen(
        page, tuple(hanging), tuple((each.rolling.day, each.count) for each in chain.in_store), acid, method.value
    )
