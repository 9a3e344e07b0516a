"""What waits for the collector at a farm: dry sheets with the weight to expect of them, latex and lump where these are sold.

Sheets count when they were weighed dry at home, or when by the farm's way of drying they should be dry. Their weight is
the one of that weighing; otherwise what the book expects of the latex that they were rolled from; otherwise the farm's
usual sheet.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.reckon.chain import HANGS_DAYS, Chain, Sheets, Weighing, taken_here
from bot.reckon.learning import Lessons, Without, chain_of, latex_of, lessons, nothing
from bot.rubber.drying import Method, ready
from bot.rubber.estimate import expect
from bot.rubber.lump import dry_content
from parsers.reading import Record, What

#: A weight from home and one from the collector's balance differ by so much at most, in percent. Common practice, no source.
BALANCE_PERCENT = 3.0

#: A usual sheet weighs so many percent more or less. Common practice, no source.
SHEET_PERCENT = 20.0

#: Latex that is sold as latex waits a day, lump so many. Common practice, no source.
LATEX_DAYS, LUMP_DAYS = 1, 30


@dataclass(frozen=True)
class Weight:
    """A weight to expect, kg: middle, and the range that should hold it."""

    kg: float = 0.0
    low: float = 0.0
    high: float = 0.0

    def plus(self, other: "Weight") -> "Weight":
        """Two weights together; the ranges add up."""
        return Weight(self.kg + other.kg, self.low + other.low, self.high + other.high)

    def holds(self, kg: Decimal | float) -> bool:
        """Whether a weight lies within the range."""
        return self.low <= float(kg) <= self.high


@dataclass(frozen=True)
class Waiting:
    """What waits: dry sheets and their weight, sheets that still dry and the day when the first are dry, latex and lump.

    `latex_dry` is the dry rubber (kg) of the latex, `lump_dry` that of the lump by its age.
    """

    sheets: int = 0
    weight: Weight = Weight()
    drying: int = 0
    dry_on: date | None = None
    latex: Decimal = Decimal(0)
    latex_dry: Weight = Weight()
    lump: Decimal = Decimal(0)
    lump_dry: Weight = Weight()

    @property
    def anything(self) -> bool:
        """Whether there is something to take."""
        return bool(self.sheets or self.latex or self.lump)


def waiting(tx: Transaction, farm: Farm, today: date, *, leave_out: str | None = None) -> Waiting:
    """What waits at a farm today; the lines of the text `leave_out` are left out of sight."""
    first = today - timedelta(days=LUMP_DAYS)
    found = entries.standing(tx, farm.id, first=first, last=today) if _sells_more(farm) else []
    standing = [each for each in found if each.message_id != leave_out]
    chain = sheets_there(tx, farm, today, without=lambda each: each.message_id == leave_out)
    return waiting_of(chain, standing, farm, lessons(tx, farm, today), today)


def _sells_more(farm: Farm) -> bool:
    return bool(set(farm.settings.sells.split()) - {"sheets"})


def sheets_there(
    tx: Transaction, farm: Farm, day: date, *, without: Without = nothing, first: date | None = None
) -> Chain:
    """The chain at the end of a day, with the weighings of all sheets in store; lines from `first` on may be left out."""
    since = min(day - timedelta(days=HANGS_DAYS), first or day)
    chain = chain_of(tx, farm, since, day, without=without)
    oldest = min((each.rolling.day for each in chain.in_store), default=day)
    return chain if oldest >= since else chain_of(tx, farm, oldest, day, without=without)


def waiting_of(chain: Chain, standing: Sequence[Entry], farm: Farm, known: Lessons, today: date) -> Waiting:
    """What waits by where the sheets are, and by the standing lines of late for latex and lump."""
    dry = [each for each in chain.hanging if dry_by(farm, each) <= today]
    wet = [each for each in chain.hanging if dry_by(farm, each) > today]
    sold = farm.settings.sells.split()
    there = (*chain.in_store, *dry)
    latex = _not_taken(standing, farm, today, "latex") if "latex" in sold else []
    lump = _not_taken(standing, farm, today, "lump") if "lump" in sold else []
    return Waiting(
        sheets=sum(each.count for each in there),
        weight=weight_of(chain, there, farm, known),
        drying=sum(each.count for each in wet),
        dry_on=min((dry_by(farm, each) for each in wet), default=None),
        latex=sum((each.record.litres or each.record.kg or Decimal(0) for each in latex), Decimal(0)),
        latex_dry=_dry_latex(latex),
        lump=sum((each.record.kg or Decimal(0) for each in lump), Decimal(0)),
        lump_dry=_dry_lump(lump, today),
    )


def expected_of(
    chain: Chain, standing: Sequence[Entry], farm: Farm, known: Lessons, record: Record, form: str
) -> Weight | None:
    """The weight that the book lets expect of a take: of so many sheets the oldest ones, of latex the dry rubber.

    `chain` and `standing` are without the take. None where the book knows of nothing that could have been taken.
    """
    today = record.day or date.max
    if form == "latex":
        found = _dry_latex(_not_taken(standing, farm, today, "latex"))
        return found if found.kg else None
    if form == "lump":
        kg = sum((each.record.kg or Decimal(0) for each in _not_taken(standing, farm, today, "lump")), Decimal(0))
        return _near(float(kg)) if kg else None
    sheets = _oldest((*chain.in_store, *chain.hanging), record.sheets or 0)
    if not sheets or sum(each.count for each in sheets) < (record.sheets or 0):
        return None
    return weight_of(chain, sheets, farm, known)


def sheets_count(chain: Chain) -> int:
    """Sheets that the book knows of, dry or not."""
    return sum(each.count for each in (*chain.in_store, *chain.hanging))


def weight_of(chain: Chain, sheets: Iterable[Sheets], farm: Farm, known: Lessons) -> Weight:
    """What some sheets of the chain should weigh."""
    home: dict[str, float] = {}
    for weighing in chain.weighings:
        if weighing.entry.record.what is What.SHEETS_DRY:
            count = max(1, sum(each.count for each in weighing.sheets) + weighing.unknown)
            home |= {each.rolling.entry.id: float(weighing.kg) / count for each in weighing.sheets}
    found = Weight()
    for each in sheets:
        weighed = home.get(each.rolling.entry.id)
        found = found.plus(_near(weighed * each.count) if weighed else _expected(each, farm, known))
    return found


def _expected(sheets: Sheets, farm: Farm, known: Lessons) -> Weight:
    """By the latex that the sheets were rolled from, or else by the farm's usual sheet."""
    usual = sheets.count * farm.settings.sheet_dry_g / 1000
    latex = latex_of(known, Weighing(sheets.rolling.entry, Decimal(1), (sheets,)))
    if not latex or not sum(each.litres for each in latex) > 0:
        return Weight(usual, usual * (1 - SHEET_PERCENT / 100), usual * (1 + SHEET_PERCENT / 100))
    found = expect(known.learned, latex)
    return Weight(found.dry_kg, found.dry_kg_low, found.dry_kg_high)


def _near(kg: float) -> Weight:
    return Weight(kg, kg * (1 - BALANCE_PERCENT / 100), kg * (1 + BALANCE_PERCENT / 100))


def _oldest(sheets: Iterable[Sheets], count: int) -> list[Sheets]:
    found = []
    for each in sheets:
        if count <= 0:
            break
        now = min(each.count, count)
        found.append(each if now == each.count else Sheets(each.rolling, now))
        count -= now
    return found


def dry_by(farm: Farm, sheets: Sheets) -> date:
    """The usual day by which sheets of a rolling are dry by the farm's way of drying."""
    return ready(sheets.rolling.day, Method(farm.settings.drying)).usual


def _not_taken(standing: Sequence[Entry], farm: Farm, today: date, form: str) -> list[Entry]:
    """Latex of today and yesterday, or lump of the last month, that was brought since the last take of it."""
    what, days = (What.LATEX, LATEX_DAYS) if form == "latex" else (What.LUMP, LUMP_DAYS)
    takes = [
        each for each in standing if taken_here(each.record, farm.name) and (each.computed or {}).get("form") == form
    ]
    last = max(((each.record.day or date.min, each.entered_at) for each in takes), default=None)
    return [
        each
        for each in standing
        if each.record.what is what
        and today - timedelta(days=days) <= (each.record.day or date.min) <= today
        and (last is None or (each.record.day or date.min, each.entered_at) > last)
    ]


def _dry_latex(latex: Iterable[Entry]) -> Weight:
    found = Weight()
    for each in latex:
        kept = each.computed or {}
        if "dry_kg" in kept:
            found = found.plus(Weight(kept["dry_kg"], kept["dry_low_kg"], kept["dry_high_kg"]))
    return found


def _dry_lump(lump: Iterable[Entry], today: date) -> Weight:
    found = Weight()
    for each in lump:
        content = dry_content(max(0, (today - (each.record.day or today)).days))
        kg = float(each.record.kg or 0) / 100
        found = found.plus(Weight(kg * content.percent, kg * content.low, kg * content.high))
    return found
