"""All papers behind one door: what is wanted, in which form, for which days; a file comes back.

What the books say is gathered within a transaction; writing the file takes longer and is done after it, so that nobody's
text waits for it. What needs the libraries for PDF, XLSX and calendars is imported when it is wanted: they would add a fifth
of a second to the start of every command.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from bot.books import Transaction, entries
from bot.books.convert import folded
from bot.books.model import Farm
from bot.papers import crop, day_book, delimited, growers_own, pay, sales, whole_books
from bot.papers.periods import month_of, months, year_of
from bot.papers.refusal import PaperRefused
from bot.papers.table import Table
from bot.reckon.bark import bark_of_blocks
from bot.speech.language import LANGUAGES, later, tongue


class Paper(StrEnum):
    """The papers that there are."""

    DAY_BOOK = "day-book"
    CROP = "crop"
    COLLECTIONS = "collections"
    PAY = "pay"
    PAYOUTS = "payouts"
    YEAR = "year"
    MONTH = "month"
    CARD = "card"
    BOOKS = "books"
    CALENDAR = "calendar"


_TABLES = ("xlsx", "csv")

#: The forms in which each paper can be had, the usual one first.
FORMS: Mapping[Paper, tuple[str, ...]] = {
    Paper.DAY_BOOK: _TABLES,
    Paper.CROP: _TABLES,
    Paper.COLLECTIONS: _TABLES,
    Paper.PAY: _TABLES,
    Paper.PAYOUTS: _TABLES,
    Paper.YEAR: _TABLES,
    Paper.MONTH: ("pdf", *_TABLES),
    Paper.CARD: ("pdf",),
    Paper.BOOKS: ("sqlite",),
    Paper.CALENDAR: ("ics",),
}

MEDIA_TYPES: Mapping[str, str] = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
    "sqlite": "application/vnd.sqlite3",
    "ics": "text/calendar; charset=utf-8",
}

#: Sizes of the page of a month; a card is always A6.
PAGE_SIZES = ("a4", "a5")

#: The most days that one paper may span, so that a slip in a year makes no file of a thousand pages.
MOST_DAYS = 20 * 366

#: How far the calendar goes when no days are named.
CALENDAR_AHEAD = timedelta(days=365)

Writer = Callable[[], bytes]
Maker = Callable[[Transaction, Farm, "Wish", date, date, datetime], Writer]


@dataclass(frozen=True)
class Wish:
    """A paper in one of its forms (None: its usual one), for days (None: the paper's usual ones) in a language.

    `languages` are those of cards, one page each. `number` is where texts go to, for cards.
    """

    paper: Paper
    form: str | None = None
    first: date | None = None
    last: date | None = None
    language: str = "en"
    languages: tuple[str, ...] = LANGUAGES
    size: str = "a4"
    number: str | None = None

    @property
    def kind(self) -> str:
        """The form of the file. Raises PaperRefused for one that the paper cannot be had in."""
        there = FORMS[self.paper]
        if self.form is not None and self.form not in there:
            raise PaperRefused(
                later("The paper {paper} can be had as {forms}, not as {form}."),
                paper=self.paper,
                forms=", ".join(there),
                form=self.form,
            )
        return self.form or there[0]


@dataclass(frozen=True)
class File:
    """A file with a name to keep it under."""

    name: str
    media_type: str
    content: bytes


def gather(tx: Transaction, farm: Farm, wish: Wish, now: datetime) -> Callable[[], File]:
    """Gather what the paper says, and return what writes its file, which needs the books no more.

    Raises PaperRefused, whose message says what to change; so does the writing, of words that do not fit on a page.
    """
    kind = wish.kind
    first, last = days(tx, farm, wish, now.astimezone(ZoneInfo(farm.timezone)).date())
    write = _MAKERS.get(wish.paper, _tables)(tx, farm, wish, first, last, now)
    return lambda: File(file_name(farm, wish, first, last), MEDIA_TYPES[kind], write())


def days(tx: Transaction, farm: Farm, wish: Wish, today: date) -> tuple[date, date]:
    """The first and the last day of a paper. Raises PaperRefused for days the wrong way round, or too many.

    Usual are: for a month the months of the days named or the present one, for a year the same, for the calendar a year
    from today, and for all others everything that was entered.
    """
    first, last = _usual_days(tx, farm, wish, today)
    if last < first:
        raise PaperRefused(later("The last day {last} is before the first day {first}."), last=last, first=first)
    if (last - first).days >= MOST_DAYS:
        raise PaperRefused(later("From {first} to {last} are too many days for one paper."), last=last, first=first)
    return first, last


def _usual_days(tx: Transaction, farm: Farm, wish: Wish, today: date) -> tuple[date, date]:
    if wish.paper is Paper.CALENDAR:
        first = wish.first or today
        return first, wish.last or min(first, date.max - CALENDAR_AHEAD) + CALENDAR_AHEAD
    if wish.paper in _TIMELESS:
        return today, today
    whole = {Paper.MONTH: month_of, Paper.YEAR: year_of}.get(wish.paper)
    if whole is not None:
        one, other = wish.first or wish.last or today, wish.last or wish.first or today
        return whole(one)[0], whole(other)[1]
    if wish.first is not None and wish.last is not None:
        return wish.first, wish.last
    if wish.paper is Paper.PAYOUTS:  # their days are those of the office, often after the last line of the farm's book
        return wish.first or (wish.last or today) - timedelta(days=MOST_DAYS - 1), wish.last or today
    entered = [each.record.day for each in entries.all_entries(tx, farm.id) if each.record.day is not None]
    first = wish.first or min(entered, default=wish.last or today)
    return first, wish.last or max(entered, default=first)


def tables(tx: Transaction, farm: Farm, wish: Wish, first: date, last: date) -> list[Table]:
    """The tables of a paper that has any; a month has one for each month."""
    speech = tongue(wish.language)
    if wish.paper is Paper.MONTH:
        return [crop.month(tx, farm, speech, *each) for each in months(first, last)]
    made = {
        Paper.DAY_BOOK: day_book.day_book,
        Paper.CROP: crop.crop_by_block,
        Paper.COLLECTIONS: sales.collections,
        Paper.PAY: pay.settlements,
        Paper.PAYOUTS: growers_own.payouts,
        Paper.YEAR: crop.year,
    }
    return [made[wish.paper](tx, farm, speech, first, last)]


def joined(found: Sequence[Table]) -> Table:
    """Tables of the same columns under each other."""
    return Table(found[0].title, found[0].columns, tuple(row for table in found for row in table.rows))


def _tables(tx: Transaction, farm: Farm, wish: Wish, first: date, last: date, now: datetime) -> Writer:
    found = tables(tx, farm, wish, first, last)
    if wish.kind == "csv":
        return lambda: delimited.csv_of(joined(found))
    from bot.papers import workbook

    return lambda: workbook.xlsx_of(found, now)


def _month(tx: Transaction, farm: Farm, wish: Wish, first: date, last: date, now: datetime) -> Writer:
    if wish.kind != "pdf":
        return _tables(tx, farm, wish, first, last, now)
    if wish.size not in PAGE_SIZES:
        raise PaperRefused(
            later("The page of a month is {sizes}, not {size}."), sizes=", ".join(PAGE_SIZES), size=wish.size
        )
    from bot.papers import month_page

    speech = tongue(wish.language)
    papers = [month_page.look_at(tx, farm, speech, *each, now) for each in months(first, last)]
    return lambda: month_page.month_pdf(papers, wish.size, now)


def _card(tx: Transaction, farm: Farm, wish: Wish, _first: date, _last: date, now: datetime) -> Writer:
    from bot.papers import card

    today = now.astimezone(ZoneInfo(farm.timezone)).date()
    found = card.cards(tx, farm, wish.languages, wish.number, today)
    return lambda: card.card_pdf(found, now)


def _books(tx: Transaction, farm: Farm, _wish: Wish, _first: date, _last: date, now: datetime) -> Writer:
    found = whole_books.gather(tx, farm, now)
    return lambda: whole_books.sqlite_of(found)


def _calendar(tx: Transaction, farm: Farm, wish: Wish, first: date, last: date, now: datetime) -> Writer:
    from bot.papers import tapping_feed

    today = now.astimezone(ZoneInfo(farm.timezone)).date()
    barks = bark_of_blocks(tx, farm, today).items()
    ends = {block: found.last_day for block, found in barks if found.last_day is not None}
    return lambda: tapping_feed.feed(farm, tongue(wish.language), first, last, now, ends)


_MAKERS: Mapping[Paper, Maker] = {
    Paper.MONTH: _month,
    Paper.CARD: _card,
    Paper.BOOKS: _books,
    Paper.CALENDAR: _calendar,
}

#: Papers that are not of some days.
_TIMELESS = frozenset({Paper.CARD, Paper.BOOKS, Paper.CALENDAR})


def file_name(farm: Farm, wish: Wish, first: date, last: date) -> str:
    """`heron-hill-month-2026-03.pdf`: letters and figures of any script, so that no name of a farm is a path."""
    words = "-".join(filter(None, (folded(word) for word in farm.name.split()))) or "farm"
    return f"{words}-{wish.paper}{_span(wish, first, last)}.{wish.kind}"


def _span(wish: Wish, first: date, last: date) -> str:
    if wish.paper in _TIMELESS:
        return ""
    if (first, last) == year_of(first):
        return f"-{first.year}"
    return f"-{first:%Y-%m}" if (first, last) == month_of(first) else f"-{first}-to-{last}"
