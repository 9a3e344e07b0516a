"""From latex to money, step by step, with the gap of each step and of each tapper, block and balance; and where the sheets are."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, entries
from bot.books.model import Entry
from bot.pages.choices import called
from bot.pages.opening import Page
from bot.reckon import gaps
from bot.reckon.gaps import Days, Row
from bot.reckon.lately import by_key_lately, steps_lately
from bot.reckon.learning import chain_of
from bot.reckon.remembering import Remembered
from bot.reckon.takes import amount_of
from bot.reckon.wages import exponent
from bot.reckon.weighed import By
from bot.rubber.drying import Method, moisture_left, ready
from bot.speech.language import Tongue, later
from bot.speech.said import said
from bot.week.concerns import SHEETS_DAYS, acid_days_left
from bot.week.figures import Crop, crop
from parsers.reading import What

#: Days that the chain shows.
DAYS = 60

#: Whose gaps the page shows, with the head of each table.
SHOWN = {By.TAPPER: later("By tapper"), By.BLOCK: later("By block"), By.BALANCE: later("By balance")}


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


@dataclass(frozen=True)
class Figures:
    """What a farm's own lines tell of the chain: latex, steps, a table for each kind of key of which there are several, money."""

    latex: Crop
    steps: tuple[Row, ...]
    tables: tuple[tuple[str, tuple[Row, ...]], ...]
    money: Decimal


_figures: Remembered[Figures] = Remembered()


def look_at_chain(tx: Transaction, page: Page) -> ChainSeen:
    """The chain from latex to money for the last days."""
    speech, days = page.speech, Days(page.farm, page.today - timedelta(days=DAYS - 1), page.today)
    found = _figures.of(tx, days, lambda: _worked_out(tx, days))
    return ChainSeen(
        page,
        days.first,
        speech.measured(found.latex.litres),
        speech.fixed(found.latex.dry_kg, 1),
        tuple(_step(speech, row) for row in (*found.steps, gaps.sold(tx, days))),
        tuple((speech.say(head), tuple(_step(speech, row) for row in rows)) for head, rows in found.tables),
        f"{speech.fixed(found.money, exponent(page.farm))} {page.farm.currency}",
    )


def _worked_out(tx: Transaction, days: Days) -> Figures:
    seen = gaps.weights(tx, days.farm, days.first, days.last)
    here = [each for each in seen.look.standing if days.within(each.record.day)]
    rows = ((head, tuple(by_key_lately(seen, by))) for by, head in SHOWN.items())
    return Figures(
        crop(each for each in here if each.record.what is What.LATEX),
        tuple(steps_lately(seen)),
        tuple((head, each) for head, each in rows if len(each) > 1),
        amount_of(days.farm, here),
    )


def _step(speech: Tongue, row: Row) -> Step:
    if not row.count:
        return Step(said(speech, row.name), "-", "-", "-", "-", "", "")
    return Step(
        said(speech, row.name),
        speech.fixed(row.expected_kg, 1),
        speech.fixed(row.found_kg, 1),
        "-" if row.unclear else speech.signed(row.gap_kg, 1),
        "-" if row.percent is None or row.unclear else speech.signed(row.percent, 1),
        _unusual(speech, row),
        said(speech, row.question),
    )


def _unusual(speech: Tongue, row: Row) -> str:
    if row.deviations is not None:
        return speech.fixed(abs(row.deviations), 1)
    return speech.say("counted") if row.counted else speech.say("unclear")


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
    chain, speech = chain_of(tx, page.farm, page.today, page.today), page.speech
    method = Method(page.farm.settings.drying)
    hanging = []
    for each in chain.hanging:
        on = ready(each.rolling.day, method)
        left = moisture_left(method, (page.today - each.rolling.day).days)
        said = f"{speech.number(left.usual, 1)} ({speech.number(left.low, 1)}-{speech.number(left.high, 1)})"
        hanging.append(
            Hanging(each.rolling.day, each.count, on.soonest, on.usual, on.latest, said, on.usual <= page.today)
        )
    since, kind = page.today - timedelta(days=SHEETS_DAYS), What.ACID_STOCK
    counted = entries.standing(tx, page.farm.id, first=since, last=page.today, what=kind)
    return StockSeen(
        page,
        tuple(hanging),
        tuple((each.rolling.day, each.count) for each in chain.in_store),
        _acid(page, counted, acid_days_left(tx, page.farm, page.today)),
        called(speech, "drying", method.value),
    )


def _acid(page: Page, counted: Sequence[Entry], days: int | None) -> str:
    """What was counted of the acid, and how long that lasts."""
    last = counted[-1].record if counted else None
    if last is None or last.day is None:
        return page.speech.say("No acid was counted in the last weeks.")
    said = page.speech.say(
        "{litres} L counted on {day}.",
        litres=page.speech.number(last.litres or 0),
        day=page.speech.dated(last.day),
    )
    if days is None:
        return said
    lasts = page.speech.count(
        "At the pace of two weeks it is enough for about {n} day from today.",
        "At the pace of two weeks it is enough for about {n} days from today.",
        days,
    )
    return f"{said} {lasts}"
