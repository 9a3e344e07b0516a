"""The crop as tables: by block and month, by month of a year, and by day of a month.

All sums are those of `bot.week.figures`, so that a paper and a page cannot differ. Measured figures are exact; the dry
weight is an expectation (worked out from litres and DRC when a line was entered) and is rounded once, to a tenth of a kg.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, farms
from bot.books.model import Entry, Farm
from bot.papers.periods import month_key, months
from bot.papers.table import Cell, Column, Table
from bot.reckon.takes import amount_of, paid_kg
from bot.speech import say
from bot.speech.language import Tongue
from bot.speech.rounding import tenths
from bot.week.figures import Crop, Span, crop, gather
from parsers.reading import What


def crop_by_block(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """Latex of every block in every month from `first` to `last`; months without any entry are left out."""
    known = list(farms.blocks(tx, farm.id))
    rows: list[tuple[Cell, ...]] = []
    for start, end in months(first, last):
        span = gather(tx, farm, max(start, first), min(end, last))
        if span.entries:
            rows += [
                (month_key(start), say.block_name(tongue, name or None), *crop_cells(span.by_block.get(name, Crop())))
                for name in all_blocks(known, span)
            ]
    columns = (Column(tongue.say("Month")), Column(tongue.say("Block")), *crop_columns(tongue))
    return Table(tongue.say("Crop by block and month"), columns, tuple(rows))


def all_blocks(known: Iterable[str], span: Span) -> list[str]:
    """The farm's blocks in their order, then whatever else latex was entered for."""
    return list(dict.fromkeys([*known, *span.by_block]))


def crop_columns(tongue: Tongue) -> tuple[Column, ...]:
    """The columns of `crop_cells`."""
    return (
        Column(tongue.say("Tapping days")),
        Column(tongue.say("Latex measured"), "L"),
        Column(tongue.say("Latex weighed"), "kg"),
        Column(tongue.say("Dry rubber expected"), "kg"),
    )


def crop_cells(crop: Crop) -> tuple[Cell, ...]:
    """Days with latex, litres, kg of latex that was weighed, kg of dry rubber expected."""
    return (crop.days, crop.litres, crop.kg, tenths(crop.dry_kg))


def year(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """What every month from `first` to `last` gave, with the whole in the last row.

    Months before the first entry and after the last one are left out.
    """
    spans = [gather(tx, farm, max(start, first), min(end, last)) for start, end in months(first, last)]
    written = [place for place, span in enumerate(spans) if span.entries]
    shown = spans[written[0] : written[-1] + 1] if written else []
    rows = [(month_key(span.first), *_figures(farm, span)) for span in shown]
    rows.append((tongue.say("Together"), *_figures(farm, gather(tx, farm, first, last))))
    columns = (
        Column(tongue.say("Month")),
        *crop_columns(tongue),
        Column(tongue.say("Sheets rolled")),
        Column(tongue.say("Dry sheets")),
        Column(tongue.say("Dry sheets"), "kg"),
        Column(tongue.say("Lump"), "kg"),
        Column(tongue.say("Sheets collected")),
        Column(tongue.say("Collected"), "kg"),
        Column(tongue.say("Amount where a price stands"), farm.currency),
        Column(tongue.say("Block-days lost to rain")),
    )
    return Table(tongue.say("Year"), columns, tuple(rows))


def _figures(farm: Farm, span: Span) -> tuple[Cell, ...]:
    return (
        *crop_cells(span.total),
        span.sheets_rolled,
        span.sheets_dry,
        span.dry_sheets_kg,
        span.lump_kg,
        span.taken_sheets,
        span.taken_kg,
        amount_of(farm, span.entries),
        span.rain_days,
    )


def month(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """What every day from `first` to `last` gave."""
    span = gather(tx, farm, first, last)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    return Table(tongue.say("Month"), day_columns(tongue), tuple((day, *day_cells(tongue, span, day)) for day in days))


def day_columns(tongue: Tongue) -> tuple[Column, ...]:
    """The day, and the columns of `day_cells`."""
    return (
        Column(tongue.say("Day")),
        Column(tongue.say("Latex measured"), "L"),
        Column(tongue.say("Latex weighed"), "kg"),
        Column(tongue.say("Dry rubber expected"), "kg"),
        Column(tongue.say("Sheets rolled")),
        Column(tongue.say("Lump"), "kg"),
        Column(tongue.say("Collected"), "kg"),
        Column(tongue.say("Remarks")),
    )


def day_cells(tongue: Tongue, span: Span, day: date) -> tuple[Cell, ...]:
    """What one day of a span gave; empty cells on a day without any latex, sheets, lump or collection."""
    today = [entry for entry in span.entries if entry.record.day == day]
    latex = [entry for entry in today if entry.record.what is What.LATEX]
    given = crop(latex)
    rolled = sum(entry.record.count or 0 for entry in today if entry.record.what is What.SHEETS_ROLLED)
    return (
        given.litres or None,
        given.kg or None,
        tenths(given.dry_kg) if latex else None,
        rolled or None,
        _kg(today, What.LUMP) or None,
        sum((paid_kg(entry) for entry in span.takes if entry.record.day == day), Decimal(0)) or None,
        _remarks(tongue, today) or None,
    )


def _kg(today: Iterable[Entry], what: What) -> Decimal:
    return sum((entry.record.kg or Decimal(0) for entry in today if entry.record.what is what), Decimal(0))


def _remarks(tongue: Tongue, today: Iterable[Entry]) -> str:
    """Why there was no tapping, and rain, each said once."""
    said: dict[str, None] = {}
    for entry in today:
        if entry.record.what is What.NO_TAPPING:
            said[say.reason(tongue, entry.record.reason)] = None
        elif entry.record.rain:
            said[tongue.say("rain")] = None
    return tongue.several(said)
