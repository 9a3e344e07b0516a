"""The owner's papers: files of his farm, behind the same link as his page."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from urllib.parse import quote, urlencode

from flask import Blueprint, Response, render_template, request

from bot.books import Books
from bot.books.model import Farm, Person
from bot.pages.opening import opened_page
from bot.papers import shelf
from bot.papers.periods import month_of, year_of
from bot.papers.refusal import PaperRefused
from bot.papers.shelf import FORMS, PAGE_SIZES, Paper, Wish
from bot.settings import Settings
from bot.speech.language import LANGUAGES, Tongue, later
from bot.speech.refusal import Refusal

Clock = Callable[[], datetime]

#: What each paper is called on the page.
NAMES = {
    Paper.DAY_BOOK: later("Day-book with all corrections"),
    Paper.CROP: later("Crop by block and month"),
    Paper.COLLECTIONS: later("Collections and amounts"),
    Paper.PAY: later("Pay that was settled"),
    Paper.PAYOUTS: later("Pay-outs of the cooperative"),
    Paper.YEAR: later("The year by months"),
    Paper.MONTH: later("Month"),
    Paper.CARD: later("Tappers' card, A6, a page for each language"),
    Paper.BOOKS: later("The farm's whole books"),
    Paper.CALENDAR: later("Calendar of tapping days and changes of the cut"),
}

#: Papers that are of some days, with the days that the page offers.
_DATED = (Paper.MONTH, Paper.YEAR, Paper.DAY_BOOK, Paper.CROP, Paper.COLLECTIONS, Paper.PAY, Paper.PAYOUTS)


class NoSuchPaper(Refusal):
    """The address asks for a paper that cannot be had; the message says why."""


@dataclass(frozen=True)
class Offer:
    """A paper as the page lists it: what it is, and a link for each way to have it."""

    name: str
    ways: tuple[tuple[str, str], ...]


def add_to(blueprint: Blueprint, settings: Settings, books: Books, clock: Clock) -> None:
    """Add the list of papers and the papers themselves to the owner's pages."""
    blueprint.add_url_rule("/farm/<token>/papers", "papers", lambda token: _list(settings, books, token, clock()))
    blueprint.add_url_rule(
        "/farm/<token>/papers/<what>.<form>",
        "paper",
        lambda token, what, form: _file(settings, books, token, what, form, clock()),
    )


def _list(settings: Settings, books: Books, token: str, now: datetime) -> str:
    with books.transaction() as tx:
        page = opened_page(tx, settings, token, now)
    return render_template("papers.html", page=page, offers=offers(page.farm, page.here, page.today, page.speech))


def offers(farm: Farm, here: str, today: date, speech: Tongue) -> list[Offer]:
    """Every paper with its links: months and years of now and before, tables of all that was entered."""
    found = [
        Offer(f"{speech.say(NAMES[Paper.MONTH])}: {speech.month(first)}", _month_ways(here, first))
        for first in _months(today)
    ]
    for year in (today.year, today.year - 1):
        span = year_of(date(year, 1, 1))
        found.append(Offer(f"{speech.say(NAMES[Paper.YEAR])}: {year}", _ways(here, Paper.YEAR, span)))
    found += [
        Offer(speech.say(NAMES[each]), _ways(here, each, None)) for each in (*_DATED[2:], Paper.CARD, Paper.BOOKS)
    ]
    if farm.settings.tapping and farm.settings.tapping_from:
        found.append(Offer(speech.say(NAMES[Paper.CALENDAR]), _ways(here, Paper.CALENDAR, None)))
    return found


def _months(today: date) -> tuple[date, date]:
    first = month_of(today)[0]
    return first, month_of(first - timedelta(days=1))[0]


def _month_ways(here: str, first: date) -> tuple[tuple[str, str], ...]:
    span = month_of(first)
    sizes = (
        (f"PDF\N{NO-BREAK SPACE}{size.upper()}", _address(here, Paper.MONTH, "pdf", span, size)) for size in PAGE_SIZES
    )
    return (*sizes, *_ways(here, Paper.MONTH, span)[1:])


def _ways(here: str, paper: Paper, span: tuple[date, date] | None) -> tuple[tuple[str, str], ...]:
    return tuple((form.upper(), _address(here, paper, form, span)) for form in FORMS[paper])


def _address(here: str, paper: Paper, form: str, span: tuple[date, date] | None, size: str | None = None) -> str:
    values = {} if span is None else {"from": str(span[0]), "to": str(span[1])}
    query = urlencode(values | ({} if size is None else {"paper": size}))
    return f"{here}/papers/{paper}.{form}" + (f"?{query}" if query else "")


def _file(settings: Settings, books: Books, token: str, what: str, form: str, now: datetime) -> Response:
    try:
        with books.transaction() as tx:
            page = opened_page(tx, settings, token, now)
            write = shelf.gather(tx, page.farm, _wish(settings, page.owner, what, form), now)
        made = write()
    except PaperRefused as refusal:
        raise NoSuchPaper(refusal.message, **refusal.values) from refusal
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(made.name)}"}
    return Response(made.content, content_type=made.media_type, headers=headers)


def _wish(settings: Settings, owner: Person, what: str, form: str) -> Wish:
    if what not in list(Paper):
        raise NoSuchPaper(later("There is no paper {what}."), what=what)
    return Wish(
        paper=Paper(what),
        form=form,
        first=_day("from"),
        last=_day("to"),
        language=owner.language,
        languages=LANGUAGES,
        size=request.args.get("paper", PAGE_SIZES[0]),
        number=settings.twilio_from,
    )


def _day(name: str) -> date | None:
    written = request.args.get(name, "")
    try:
        return date.fromisoformat(written) if written else None
    except ValueError as fault:
        raise NoSuchPaper(later("Write the days like 2026-03-09.")) from fault
