"""The manager's pages: a collecting day of his cooperative, prices, disputes and their end, the store, grades, pay-outs."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

from flask import Blueprint, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, Transaction, cooperatives
from bot.books.convert import folded
from bot.books.cooperative_file import kind_of_price
from bot.books.farm_settings import FORMS
from bot.pages import growers_money
from bot.pages.closing import closed
from bot.pages.forms import CannotDo, field, number
from bot.pages.office import NotManager, Seen, do, opened_page
from bot.settings import Settings
from bot.speech import say
from bot.speech.language import Tongue, later, page_tongue
from bot.talk import cooperative as talk
from bot.talk import growers_money as money_talk
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind
from bot.talk.house import House
from bot.talk.office import Office
from bot.week import grades
from bot.week.closing import closing, kind_name
from bot.week.waiting_words import ready_words

Clock = Callable[[], datetime]
Look = Callable[[Transaction, Seen, str], str]

#: Days of grades that the page shows.
GRADE_DAYS = 92


def pages(settings: Settings, books: Books, clock: Clock, house: House) -> Blueprint:
    """The manager's pages over these books."""
    blueprint = Blueprint("cooperative", __name__, url_prefix="/cooperative/<token>")

    def show(token: str, look: Look, problem: str = "") -> str:
        with books.transaction() as tx:
            return look(tx, opened_page(tx, settings, token, clock(), _wanted()), problem)

    def act(
        token: str, what: str, ask: Callable[[], Callable[[Office], Outcome]], look: Look, at: str = ""
    ) -> ResponseReturnValue:
        """Do what a form asks for, and show the page `at` that address again, or `look` with what was wrong."""
        try:
            answer = do(settings, books, token, clock(), what, ask(), house)
        except CannotDo as fault:
            refused = fault
            return show(token, lambda tx, page, _: look(tx, page, refused.said(page.speech))), 400
        if answer.kind is Kind.REFUSED:
            return show(token, look, answer.text or ""), 409
        return redirect(f"/cooperative/{token}{at}", code=303)

    @blueprint.get("")
    def day(token: str) -> ResponseReturnValue:
        return show(token, _day)

    @blueprint.get("/grades")
    def grade_page(token: str) -> ResponseReturnValue:
        return show(token, _grades)

    @blueprint.get("/money")
    def money_page(token: str) -> ResponseReturnValue:
        return show(token, growers_money.show)

    @blueprint.get("/money/<farm>")
    def grower_page(token: str, farm: str) -> ResponseReturnValue:
        return show(token, lambda tx, page, _: growers_money.show_grower(tx, page, farm))

    @blueprint.post("/price")
    def price(token: str) -> ResponseReturnValue:
        return act(token, "price", _price, _day)

    @blueprint.post("/store")
    def store(token: str) -> ResponseReturnValue:
        return act(token, "store out", _store, _day)

    @blueprint.post("/dispute")
    def dispute(token: str) -> ResponseReturnValue:
        return act(token, f"dispute {field('number')}", _dispute, _day)

    @blueprint.post("/money/off")
    def take_off(token: str) -> ResponseReturnValue:
        return act(token, f"{field('kind')} {field('amount')}", growers_money.take_off, growers_money.show, "/money")

    @blueprint.post("/money/back")
    def take_back(token: str) -> ResponseReturnValue:
        return act(token, "take back", growers_money.take_back, growers_money.show, "/money")

    @blueprint.post("/money/levy")
    def levy(token: str) -> ResponseReturnValue:
        return act(token, f"levy {field('percent')}", _levy, growers_money.show, "/money")

    @blueprint.post("/money/pay-out")
    def pay_out(token: str) -> ResponseReturnValue:
        return act(token, f"pay out {field('total')}", growers_money.pay_out, growers_money.show, "/money")

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
    shown = {"seen": seen, "prices": prices, "waiting": waiting, "problem": problem}
    shown["forms"] = forms_of(page.speech)
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


def _kind(office: Office, written: str) -> str:
    """A grade, or a form of rubber as the manager's language calls it. Raises CannotDo."""
    for form in FORMS:
        if folded(written) in {form, folded(kind_name(office.tongue, form)), folded(_form_named(office, form))}:
            return form
    try:
        return kind_of_price(written)
    except ValueError as fault:
        refused = later("{text} is neither a grade such as RSS3 nor {forms}.")
        raise CannotDo(refused, text=written, forms=forms_of(page_tongue(office.me.language))) from fault


def _form_named(office: Office, form: str) -> str:
    return kind_name(page_tongue(office.me.language), form)


def forms_of(speech: Tongue) -> str:
    """The forms of rubber with `or` before the last."""
    return speech.alternatives(kind_name(speech, form) for form in FORMS)


def _price() -> Callable[[Office], Outcome]:
    written, price = field("kind", 20), number("price")
    return lambda office: talk.set_prices(office, {_kind(office, written): price})


def _store() -> Callable[[Office], Outcome]:
    written, kg = field("kind", 20), number("kg")
    return lambda office: talk.leave_store(office, _kind(office, written), kg)


def _dispute() -> Callable[[Office], Outcome]:
    receipt, kg = int(number("number")), number("kg") if field("do") == "correct" else None
    return lambda office: talk.settle(office, receipt, kg)


def _levy() -> Callable[[Office], Outcome]:
    percent = number("percent", zero=True)
    return lambda office: money_talk.set_levy(office, percent)
