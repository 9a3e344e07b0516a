"""The owner's page: a week of his farm, reached through a signed link that expires. A link shows one farm and no other."""

from collections.abc import Callable
from datetime import date, datetime
from importlib import resources

from flask import Blueprint, Response, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, cooperatives, farms, people
from bot.pages import links, papers, why
from bot.pages.closing import closed
from bot.pages.opening import opened_page
from bot.pages.week import MOST_LINES, NotOwner, look_at
from bot.settings import Settings
from bot.speech.language import later
from bot.speech.refusal import Refusal
from parsers.reading import Role

Clock = Callable[[], datetime]


class BadDay(Refusal):
    """The address names a day, or a line of the book, that cannot be."""


class NoEntry(Refusal):
    """The farm has no such entry with figures."""


def link(settings: Settings, farm_id: str, person_id: str) -> str:
    """The address of the page for an owner of a farm: whole where the public address is set, otherwise only its path."""
    return (settings.public_url or "") + links.path(settings, farm_id, person_id)


def pages(settings: Settings, books: Books, clock: Clock) -> Blueprint:
    """The owner's pages over these books."""
    blueprint = Blueprint("owner", __name__)
    blueprint.add_url_rule("/look.css", "look", lambda: _look("look.css", "text/css; charset=utf-8"))
    blueprint.add_url_rule("/icon.svg", "icon", lambda: _look("icon.svg", "image/svg+xml"))
    blueprint.add_url_rule("/farm/<token>", "week", lambda token: _week(settings, books, token, clock()))
    blueprint.add_url_rule(
        "/farm/<token>/why/<entry>", "why", lambda token, entry: _why(settings, books, token, entry, clock())
    )
    blueprint.add_url_rule("/owner", "owners", lambda: _owners(settings, books))
    papers.add_to(blueprint, settings, books, clock)
    blueprint.app_errorhandler(links.BadLink)(lambda fault: closed(books, settings, fault, 403))
    blueprint.app_errorhandler(NotOwner)(
        lambda _: closed(books, settings, later("This link does not open this farm any more."), 403)
    )
    blueprint.register_error_handler(NoEntry, lambda fault: closed(books, settings, fault, 404))
    for kind in (BadDay, papers.NoSuchPaper):
        blueprint.register_error_handler(kind, lambda fault: closed(books, settings, fault, 400))
    return blueprint


def _look(name: str, kind: str) -> Response:
    """A file of the pages' look, which may be kept for an hour."""
    text = resources.files("bot.pages").joinpath(f"look/{name}").read_text(encoding="utf-8")
    return Response(text, content_type=kind, headers={"Cache-Control": "max-age=3600"})


def _owners(settings: Settings, books: Books) -> ResponseReturnValue:
    """In the demonstration every owner's link; otherwise only how an owner gets his own."""
    if not settings.demonstration:
        return closed(books, settings, later("The week of a farm opens with its owner's own link."), 403)
    with books.transaction() as tx:
        found = [
            (farms.farm(tx, each.farm_id).name, each.person.name, links.path(settings, each.farm_id, each.person.id))
            for each in people.everybody(tx)
            if each.role is Role.OWNER
        ]
        found += [
            (one.name, manager.name, links.cooperative_path(settings, one.id, manager.id))
            for one in cooperatives.everyone(tx)
            for manager in cooperatives.managers(tx, one.id)
        ]
    return render_template("owners.html", owners=found)


def _week(settings: Settings, books: Books, token: str, now: datetime) -> str:
    day, skipped = _day(request.args.get("of", "")), _whole(request.args.get("after", "0"))
    with books.transaction() as tx:
        page = opened_page(tx, settings, token, now)
        seen = look_at(tx, page.farm.id, page.owner.id, day, now, skipped)
    return render_template("week.html", seen=seen, page=page, here=page.here, most=MOST_LINES)


def _why(settings: Settings, books: Books, token: str, entry: str, now: datetime) -> ResponseReturnValue:
    with books.transaction() as tx:
        page = opened_page(tx, settings, token, now)
        try:
            seen = why.explained(tx, page.farm.id, page.owner.id, entry)
        except why.NoFigures as none:
            raise NoEntry(later("There is no entry with figures at this address.")) from none
    return render_template("why.html", seen=seen, page=page, here=page.here)


def _day(written: str) -> date | None:
    """The day in the address; None when there is none. The years keep a week before and after within the calendar."""
    if not written:
        return None
    try:
        day = date.fromisoformat(written)
    except ValueError as fault:
        raise BadDay(later("Write the day like 2026-03-09.")) from fault
    if not 1900 <= day.year <= 2200:
        raise BadDay(later("Write a day between the years 1900 and 2200."))
    return day


def _whole(written: str) -> int:
    if not (written.isascii() and written.isdecimal() and len(written) <= 6):
        raise BadDay(later("The number of lines to leave out must be a whole number."))
    return int(written)
