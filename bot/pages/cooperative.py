"""The manager's pages: a collecting day of his cooperative, prices, disputes and their end, the store, grades, pay-outs."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from flask import Blueprint, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, Transaction, cooperatives
from bot.pages import growers_money, storeroom
from bot.pages.closing import closed
from bot.pages.forms import CannotDo, field, number
from bot.pages.office import NotManager, Seen, do, opened_page
from bot.settings import Settings
from bot.speech import say
from bot.speech.language import later
from bot.talk import cooperative as talk
from bot.talk import growers_money as money_talk
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind
from bot.talk.house import House
from bot.talk.office import Office
from bot.week import grades, paying_out
from bot.week.closing import closing
from bot.week.waiting_words import ready_words

Clock = Callable[[], datetime]
Look = Callable[[Transaction, Seen, str], str]

#: Days of grades that the page shows.
GRADE_DAYS = 92


@dataclass(frozen=True)
class Form:
    """A form: what it asks for, the page that it stands on, and the address of that page."""

    ask: Callable[[], Callable[[Office], Outcome]]
    look: Look
    page: str


def pages(settings: Settings, books: Books, clock: Clock, house: House) -> Blueprint:
    """The manager's pages over these books."""
    blueprint = Blueprint("cooperative", __name__, url_prefix="/cooperative/<token>")

    def show(token: str, look: Look, problem: str = "") -> str:
        with books.transaction() as tx:
            return look(tx, opened_page(tx, settings, token, clock(), _wanted()), problem)

    def view(token: str, path: str) -> ResponseReturnValue:
        return show(token, VIEWS[path])

    def post(token: str, path: str) -> ResponseReturnValue:
        """Do what a form asks for, and show its page again, with what was wrong."""
        form = POSTS[path]
        try:
            answer = do(settings, books, token, clock(), _in_short(path), form.ask(), house)
        except CannotDo as fault:
            refused = fault
            return show(token, lambda tx, page, _: form.look(tx, page, refused.said(page.speech))), 400
        if answer.kind is Kind.REFUSED:
            return show(token, form.look, answer.text or ""), 409
        return redirect(f"/cooperative/{token}{form.page}", code=303)

    @blueprint.get("/money/<farm>")
    def grower_page(token: str, farm: str) -> ResponseReturnValue:
        return show(token, lambda tx, page, _: growers_money.show_grower(tx, page, farm))

    for path in VIEWS:
        blueprint.add_url_rule(path, f"view{path}", view, defaults={"path": path})
    for path in POSTS:
        blueprint.add_url_rule(path, f"post{path}", post, methods=["POST"], defaults={"path": path})
    blueprint.app_errorhandler(NotManager)(
        lambda _: closed(books, settings, later("This link does not open this page any more."), 403)
    )
    blueprint.register_error_handler(
        growers_money.NoGrower, lambda _: closed(books, settings, later("There is no such page."), 404)
    )
    return blueprint


def _day(tx: Transaction, page: Seen, problem: str) -> str:
    seen = closing(tx, page.cooperative, page.day)
    prices = cooperatives.prices_on(tx, page.cooperative.id, page.day)
    waiting = [(each, ready_words(page.speech, each.waiting)) for each in seen.not_visited]
    nobody = [(each, ready_words(page.speech, each.waiting)) for each in seen.nobody_home]
    shown = {"seen": seen, "prices": prices, "waiting": waiting, "nobody": nobody, "problem": problem}
    shown["forms"] = storeroom.forms_of(page.speech)
    if page.day == page.today:
        shown["due"] = paying_out.to_pay(tx, page.cooperative, seen.amount, len(seen.cash))
    return render_template("cooperative.html", page=page, speech=page.speech, **shown)


def _grades(tx: Transaction, page: Seen, _problem: str) -> str:
    first = page.today - timedelta(days=GRADE_DAYS)
    months = [_month(page, each) for each in grades.by_grower(tx, page.cooperative, first, page.today)]
    return render_template("cooperative_grades.html", page=page, speech=page.speech, months=months, first=first)


def _wanted() -> date | None:
    """The day in the address; today where there is none that can be."""
    try:
        return date.fromisoformat(request.args.get("of", ""))
    except ValueError:
        return None


def _month(page: Seen, found: grades.GrowersMonth) -> dict[str, object]:
    speech = page.speech
    return {
        "farm": found.farm,
        "month": f"{speech.short_month(found.month)} {found.month.year}",
        "takes": found.takes,
        "kinds": ", ".join(f"{page.kind(kind)} {speech.measured(kg)} kg" for kind, kg in found.kinds.items()),
        "notes": ", ".join(f"{say.grade_note(speech, note)} {n}" for note, n in found.notes.items()),
    }


def _price() -> Callable[[Office], Outcome]:
    written, price = field("kind", 20), number("price")
    return lambda office: talk.set_prices(office, {storeroom.kind(office, written): price})


def _dispute() -> Callable[[Office], Outcome]:
    receipt, kg = int(number("number")), number("kg") if field("do") == "correct" else None
    return lambda office: talk.settle(office, receipt, kg)


def _levy() -> Callable[[Office], Outcome]:
    percent = number("percent", zero=True)
    return lambda office: money_talk.set_levy(office, percent)


#: The pages by their addresses.
VIEWS: Mapping[str, Look] = {"": _day, "/grades": _grades, "/store": storeroom.show, "/money": growers_money.show}

#: The forms by the address that they are sent to.
POSTS: Mapping[str, Form] = {
    "/price": Form(_price, _day, ""),
    "/dispute": Form(_dispute, _day, ""),
    "/store": Form(storeroom.leave, storeroom.show, "/store"),
    "/store/bales": Form(storeroom.press, storeroom.show, "/store"),
    "/store/count": Form(storeroom.count, storeroom.show, "/store"),
    "/store/weight": Form(storeroom.weight, storeroom.show, "/store"),
    "/money/off": Form(growers_money.take_off, growers_money.show, "/money"),
    "/money/back": Form(growers_money.take_back, growers_money.show, "/money"),
    "/money/levy": Form(_levy, growers_money.show, "/money"),
    "/money/pay-out": Form(growers_money.pay_out, growers_money.show, "/money"),
}

#: Fields of forms that stand in the messages, with what was asked for.
IN_SHORT = ("number", "do", "kind", "price", "amount", "percent", "total", "pieces", "kg")


def _in_short(path: str) -> str:
    """What a form asked for, as it stands among the messages."""
    return " ".join([path.strip("/"), *(value for name in IN_SHORT if (value := field(name)))])
