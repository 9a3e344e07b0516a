"""From latex to money, step by step, with the gap of each step; and where the sheets are now."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, entries
from bot.pages.opening import Page
from bot.reckon.chain import Chain, follow
from bot.reckon.learning import Lessons, chain_of, latex_of, lessons
from bot.reckon.takes import amount
from bot.reckon.wages import exponent
from bot.rubber.drying import Method, moisture_left, ready
from bot.rubber.estimate import expect
from bot.rubber.money import rounded
from bot.week.concerns import SHEETS_DAYS, acid_days_left
from parsers.reading import What

#: Days that the chain shows.
DAYS = 30


@dataclass(frozen=True)
class Step:
    """A step: what was expected by the one before, what was found, the gap, and whether it is out of what is likely."""

    name: str
    expected: str
    found: str
    gap: str
    odd: bool = False


@dataclass(frozen=True)
class ChainSeen:
    """The chain of the last days."""

    page: Page
    first: date
    steps: tuple[Step, ...]
    sold: str


def look_at_chain(tx: Transaction, page: Page) -> ChainSeen:
    """The chain from latex to money for the last days."""
    english = page.english
    first = page.today - timedelta(days=DAYS - 1)
    standing = entries.standing(tx, page.farm.id, first=first - timedelta(days=SHEETS_DAYS), last=page.today)
    here = [each for each in standing if each.record.day and each.record.day >= first]
    known, chain = lessons(tx, page.farm, page.today), follow(standing, page.farm.name)
    latex = [each for each in here if each.record.what is What.LATEX]
    dry = sum(float((each.computed or {}).get("dry_kg", 0)) for each in latex)
    rolled = sum(each.record.count or 0 for each in here if each.record.what is What.SHEETS_ROLLED)
    by_weight = round(dry * 1000 / page.farm.settings.sheet_dry_g)
    litres = sum((each.record.litres or Decimal(0) for each in latex), Decimal(0))
    steps = [
        Step("Latex to dry rubber, expected", f"{english.measured(litres)} L", f"{english.fixed(dry, 1)} kg", "-"),
        Step("Sheets rolled", f"about {by_weight}", str(rolled), _signed(rolled - by_weight)),
        _weighed(page, known, chain, first),
        _taken(page, chain, first),
    ]
    money = rounded(Decimal(0), exponent(page.farm))
    for each in here:
        if each.record.what is What.COLLECTED:
            money += amount(page.farm, each) or Decimal(0)
    return ChainSeen(page, first, tuple(steps), f"{english.fixed(money, exponent(page.farm))} {page.farm.currency}")


def _weighed(page: Page, known: Lessons, chain: Chain, first: date) -> Step:
    """Weighed sheets whose latex is known, against what that latex let expect."""
    low = high = middle = found = 0.0
    for weighing in chain.weighings:
        latex = latex_of(known, weighing)
        if latex is not None and weighing.entry.record.day and weighing.entry.record.day >= first:
            expected = expect(known.learned, latex)
            low, high = low + expected.dry_kg_low, high + expected.dry_kg_high
            middle, found = middle + expected.dry_kg, found + float(weighing.kg)
    english = page.english
    said = f"{english.fixed(middle, 1)} ({english.fixed(low, 1)}-{english.fixed(high, 1)}) kg"
    gap = f"{_signed(round(found - middle, 1))} kg"
    return Step(
        "Sheets weighed dry", said, f"{english.measured(found)} kg", gap, bool(middle) and not low <= found <= high
    )


def _taken(page: Page, chain: Chain, first: date) -> Step:
    """What was taken, against what the same sheets weighed at home where they were weighed."""
    english = page.english
    kg_of = {
        each.rolling.entry.id: (float(weighing.kg) / max(1, sum(s.count for s in weighing.sheets)))
        for weighing in chain.weighings
        for each in weighing.sheets
        if weighing.entry.record.what is What.SHEETS_DRY
    }
    expected = found = 0.0
    for take in chain.taken:
        if take.entry.record.day and take.entry.record.day >= first and take.kg:
            weights = [kg_of.get(each.rolling.entry.id) for each in take.sheets]
            if take.sheets and not take.unknown and all(weight is not None for weight in weights):
                expected += sum((weight or 0) * each.count for weight, each in zip(weights, take.sheets, strict=True))
                found += float(take.kg)
    odd = bool(expected) and abs(found - expected) > 0.03 * expected
    gap = f"{_signed(round(found - expected, 1))} kg"
    return Step("Taken by the collector", f"{english.fixed(expected, 1)} kg", f"{english.measured(found)} kg", gap, odd)


def _signed(number: float) -> str:
    return f"{number + 0.0:+g}"


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
