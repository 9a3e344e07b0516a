"""The manager's page: a collecting day of his cooperative, prices, disputes and their end, the store, grades by grower."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation

from flask import Blueprint, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, Transaction, cooperatives, people
from bot.books.cooperative_file import kind_of_price
from bot.books.cooperatives import Cooperative
from bot.books.model import Person
from bot.pages import links
from bot.pages.opening import PAGE, field
from bot.pages.practice import refuse_other_sites
from bot.reckon.pay_terms import decimals
from bot.settings import Settings
from bot.speech.language import Tongue, tongue
from bot.talk import cooperative as talk
from bot.talk.answer import act_for_cooperative
from bot.talk.desk import Outcome
from bot.talk.exchange import Answer, Incoming, Kind
from bot.talk.house import House
from bot.talk.office import Office
from bot.week import grades
from bot.week.closing import closing, kind_name, local_day
from bot.week.waiting_words import ready_words

Clock = Callable[[], datetime]

#: Days of grades that the page shows.
GRADE_DAYS = 92


class CannotDo(ValueError):
    """What the form asks for cannot be done; the message says why."""


class NotManager(LookupError):
    """The link's person does not manage that cooperative any more."""


@dataclass(frozen=True)
class Seen:
    """A manager's page: which cooperative, for whom, the day, and where its forms go."""

    cooperative: Cooperative
    manager: Person
    day: date
    today: date
    here: str
    key: str

    @property
    def english(self) -> Tongue:
        """The language of the pages."""
        return tongue(PAGE)

    def kind(self, name: str) -> str:
        """A grade or form in words."""
        return kind_name(self.english, name)

    def money(self, amount: Decimal) -> str:
        """An amount with the decimals of the currency."""
        return self.english.fixed(amount, decimals(self.cooperative.currency))

    @property
    def before(self) -> date:
        """The day before."""
        return self.day - timedelta(days=1)

    @property
    def after(self) -> date | None:
        """The day after, up to today."""
        return self.day + timedelta(days=1) if self.day < self.today else None


def pages(settings: Settings, books: Books, clock: Clock, house: House) -> Blueprint:
    """The manager's page over these books."""
    blueprint = Blueprint("cooperative", __name__, url_prefix="/cooperative/<token>")

    @blueprint.get("")
    def day(token: str) -> ResponseReturnValue:
        return _day(settings, books, token, clock(), "")

    @blueprint.get("/grades")
    def grade_page(token: str) -> ResponseReturnValue:
        with books.transaction() as tx:
            page = _opened(tx, settings, token, clock())
            first = page.today - timedelta(days=GRADE_DAYS)
            months = [_month(page, each) for each in grades.by_grower(tx, page.cooperative, first, page.today)]
        return render_template("cooperative_grades.html", page=page, months=months, first=first)

    def act(token: str, what: str, action: Callable[[Office], Outcome]) -> ResponseReturnValue:
        try:
            answer = _do(settings, books, token, clock(), what, action, house)
        except CannotDo as fault:
            return _day(settings, books, token, clock(), str(fault)), 400
        if answer.kind is Kind.REFUSED:
            return _day(settings, books, token, clock(), answer.text or ""), 409
        return redirect(f"/cooperative/{token}", code=303)

    @blueprint.post("/price")
    def price(token: str) -> ResponseReturnValue:
        return act(token, "price", lambda office: talk.set_prices(office, {_kind(): _number("price")}))

    @blueprint.post("/store")
    def store(token: str) -> ResponseReturnValue:
        return act(token, "store out", lambda office: talk.leave_store(office, _kind(), _number("kg")))

    @blueprint.post("/dispute")
    def dispute(token: str) -> ResponseReturnValue:
        corrects = field("do") == "correct"
        return act(
            token,
            f"dispute {field('number')}",
            lambda office: talk.settle(office, int(_number("number")), _number("kg") if corrects else None),
        )

    blueprint.app_errorhandler(NotManager)(
        lambda _: (
            render_template("closed.html", why="This link does not open this page any more.", ask_for_link=True),
            403,
        )
    )
    return blueprint


def _opened(tx: Transaction, settings: Settings, token: str, now: datetime, day: date | None = None) -> Seen:
    """The page that a link opens. Raises BadLink or NotManager."""
    opened = links.opened_cooperative(settings, token)
    managers = {each.id: each for each in cooperatives.managers(tx, opened.farm_id)}
    manager = managers.get(opened.person_id)
    if manager is None or manager.blocked_at is not None:
        raise NotManager(opened.person_id)
    since = people.links_since(tx, manager.id)
    if since is not None and opened.made_at < since.replace(microsecond=0):
        raise links.BadLink("This link was made void. Text the bot: link")
    one = cooperatives.cooperative(tx, opened.farm_id)
    today = local_day(one, now)
    chosen = today if day is None else min(day, today)
    return Seen(one, manager, chosen, today, f"/cooperative/{token}", links.form_key(settings, opened))


def _day(settings: Settings, books: Books, token: str, now: datetime, problem: str) -> str:
    with books.transaction() as tx:
        page = _opened(tx, settings, token, now, _wanted())
        seen = closing(tx, page.cooperative, page.day)
        prices = cooperatives.prices_on(tx, page.cooperative.id, page.day)
    waiting = [(each, ready_words(page.english, each.waiting)) for each in seen.not_visited]
    return render_template(
        "cooperative.html", page=page, seen=seen, prices=prices, waiting=waiting, problem=problem, say=page.english
    )


def _wanted() -> date | None:
    """The day in the address; today where there is none that can be."""
    try:
        return date.fromisoformat(request.args.get("of", ""))
    except ValueError:
        return None


def _month(page: Seen, found: grades.GrowersMonth) -> dict[str, object]:
    speech = page.english
    return {
        "farm": found.farm,
        "month": f"{speech.month(found.month)} {found.month.year}",
        "takes": found.takes,
        "kinds": ", ".join(f"{page.kind(kind)} {speech.number(kg, 1)} kg" for kind, kg in found.kinds.items()),
        "notes": ", ".join(f"{note} {n}" for note, n in found.notes.items()),
    }


def _kind() -> str:
    try:
        return kind_of_price(field("kind", 20))
    except ValueError as fault:
        raise CannotDo(f"{fault}.") from fault


def _number(name: str) -> Decimal:
    written = field(name, 20).replace(",", ".")
    try:
        number = Decimal(written)
    except InvalidOperation as fault:
        raise CannotDo(f"{written or 'Nothing'} is no number; write it like 1.55.") from fault
    if not number.is_finite() or not 0 < number < 10_000_000:
        raise CannotDo(f"{written} cannot be.")
    return number


def _do(
    settings: Settings,
    books: Books,
    token: str,
    now: datetime,
    what: str,
    action: Callable[[Office], Outcome],
    house: House,
) -> Answer:
    """Do what a form of ours asks for, as if the manager had texted it. Raises BadLink, NotManager or CannotDo."""
    refuse_other_sites()
    opened = links.opened_cooperative(settings, token)
    links.check_form_key(settings, opened, request.form.get("key", ""))
    with books.transaction() as tx:
        page = _opened(tx, settings, token, now)
    incoming = Incoming(f"page-{secrets.token_hex(10)}", page.manager.number, f"[page] {what}", now, now, "page")
    try:
        return act_for_cooperative(books, incoming, now, page.cooperative.id, action, house)
    except LookupError as gone:
        raise NotManager(page.manager.id) from gone
