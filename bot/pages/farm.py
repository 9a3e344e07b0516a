"""The further pages of a farm: blocks, tappers, chain, stock, plots, pay, settings, and changing a line."""

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, Transaction, entries
from bot.pages import block, chain, changing, land, measuring, money, waiting
from bot.pages.changing import CannotChange
from bot.pages.choices import choices
from bot.pages.closing import closed
from bot.pages.opening import Page, do, opened_page
from bot.settings import Settings
from bot.speech import say
from bot.speech.language import later
from bot.speech.refusal import Refusal
from bot.talk.desk import Desk, Outcome
from bot.talk.house import House

Clock = Callable[[], datetime]
Look = Callable[[Transaction, Page], ResponseReturnValue]

#: Pages that only show something, each at the address that its template is called after.
VIEWS: dict[str, Callable[[Transaction, Page], object]] = {
    "chain.html": chain.look_at_chain,
    "stock.html": chain.look_at_stock,
    "plots.html": land.look_at_land,
}


class NoLine(Refusal):
    """There is no such line of the book to change."""


def pages(settings: Settings, books: Books, clock: Clock, house: House) -> Blueprint:
    """The further pages of a farm over these books."""
    blueprint = Blueprint("farm", __name__, url_prefix="/farm/<token>")

    def show(token: str, look: Look) -> ResponseReturnValue:
        with books.transaction() as tx:
            return look(tx, opened_page(tx, settings, token, clock()))

    def act(token: str, what: str, action: Callable[[Desk], Outcome]) -> None:
        do(settings, books, token, clock(), what, action, house)

    @blueprint.get("/block/<name>")
    def block_page(token: str, name: str) -> ResponseReturnValue:
        return show(token, lambda tx, page: _seen("block.html", page, block.look_at_block(tx, page, name)))

    @blueprint.get("/tapper/<person>")
    def tapper_page(token: str, person: str) -> ResponseReturnValue:
        return show(token, lambda tx, page: _seen("tapper.html", page, block.look_at_tapper(tx, page, person)))

    def view(token: str, template: str) -> ResponseReturnValue:
        return show(token, lambda tx, page: _seen(template, page, VIEWS[template](tx, page)))

    for template in VIEWS:
        name = template.removesuffix(".html")
        blueprint.add_url_rule(f"/{name}", name, view, defaults={"template": template})

    @blueprint.get("/pay")
    def pay_page(token: str) -> ResponseReturnValue:
        return show(token, lambda tx, page: _seen("pay.html", page, money.look_at_pay(tx, page)))

    @blueprint.post("/pay")
    def settle(token: str) -> ResponseReturnValue:
        total = request.form.get("total", "")
        act(token, f"settle {total}", lambda desk: changing.settle(desk, total))
        return redirect(f"/farm/{token}/pay", code=303)

    @blueprint.get("/settings")
    def settings_page(token: str) -> ResponseReturnValue:
        return show(token, lambda _tx, page: _settings(page, ""))

    @blueprint.post("/settings")
    def change_settings(token: str) -> ResponseReturnValue:
        try:
            act(token, "settings", lambda desk: changing.change_settings(desk, request.form))
        except CannotChange as fault:
            problem = fault
            return show(token, lambda _tx, page: (_settings(page, problem.said(page.speech)), 400))
        return redirect(f"/farm/{token}/settings", code=303)

    @blueprint.get("/entry/<entry>")
    def entry_page(token: str, entry: str) -> ResponseReturnValue:
        return show(token, lambda tx, page: _entry(tx, page, entry, ""))

    @blueprint.post("/entry/<entry>")
    def change_entry(token: str, entry: str) -> ResponseReturnValue:
        form = {name: request.form[name].strip() for name in (*changing.FIELDS, "do") if name in request.form}
        try:
            act(token, f"change {entry}", lambda desk: changing.change_entry(desk, entry, form))
        except CannotChange as fault:
            problem = fault
            return show(token, lambda tx, page: _entry(tx, page, entry, problem.said(page.speech)))
        return redirect(f"/farm/{token}", code=303)

    @blueprint.post("/links")
    def cut_links(token: str) -> ResponseReturnValue:
        act(token, "links", changing.cut_links)
        return closed(books, settings, later("All your links are void now. Text the bot: link"), 200)

    measuring.add_to(blueprint, settings, books, clock, house)
    waiting.add_to(blueprint, settings, books, clock, house)
    _add_refusals(blueprint, settings, books)
    return blueprint


def _add_refusals(blueprint: Blueprint, settings: Settings, books: Books) -> None:
    """What is not there and what cannot be changed is said on a page."""
    blueprint.register_error_handler(
        block.NoSuch, lambda _: closed(books, settings, later("There is no such page."), 404)
    )
    blueprint.register_error_handler(NoLine, lambda fault: closed(books, settings, fault, 404))
    blueprint.register_error_handler(CannotChange, lambda fault: closed(books, settings, fault, 409))


def _seen(template: str, page: Page, seen: object) -> ResponseReturnValue:
    return render_template(template, seen=seen, page=page)


def _settings(page: Page, problem: str) -> str:
    rows = [
        (name, page.speech.say(label), _value(page, name), choices(page.speech, name))
        for name, label in changing.SETTINGS.items()
    ]
    return render_template("settings.html", page=page, rows=rows, problem=problem)


def _value(page: Page, name: str) -> str:
    return changing.shown(page.speech, getattr(page.farm.settings, name))


def _entry(tx: Transaction, page: Page, entry_id: str, problem: str) -> tuple[str, int]:
    entry, speech = entries.entry(tx, entry_id), page.speech
    if entry is None or entry.farm_id != page.farm.id or entries.successor(tx, entry_id) is not None:
        raise NoLine(later("There is no such line, or it does not stand any more."))
    rows = [
        (name, speech.say(label), changing.shown(speech, getattr(entry.record, name)))
        for name, label in changing.FIELDS.items()
        if name == "day"
        or getattr(entry.record, name) is not None
        or (name == "drc" and entry.record.litres is not None)
    ]
    said = say.line(speech, entry.record, page.today)
    shown = render_template("entry.html", page=page, entry=entry, rows=rows, said=said, problem=problem)
    return shown, 400 if problem else 200
