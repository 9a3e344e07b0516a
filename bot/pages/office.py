"""What all pages of a cooperative share: who looks at them through which link, and what their forms do."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from bot.books import Books, Transaction, cooperatives
from bot.books.cooperatives import Cooperative
from bot.books.model import Person
from bot.pages import forms, links
from bot.reckon.pay_terms import decimals
from bot.settings import Settings
from bot.speech.language import Tongue, page_tongue
from bot.talk.answer import act_for_cooperative
from bot.talk.desk import Outcome
from bot.talk.exchange import Answer
from bot.talk.house import House
from bot.talk.office import Office
from bot.week.closing import kind_name, local_day


class NotManager(LookupError):
    """The link's person does not manage that cooperative any more."""


@dataclass(frozen=True)
class Seen:
    """A manager's page: which cooperative, for whom, the day, and where its forms go.

    `others` are the other cooperatives of his, by name, with the address of each.
    """

    cooperative: Cooperative
    manager: Person
    day: date
    today: date
    here: str
    key: str
    others: tuple[tuple[str, str], ...] = ()

    @property
    def speech(self) -> Tongue:
        """The language of the manager."""
        return page_tongue(self.manager.language)

    def kind(self, name: str) -> str:
        """A grade or form in words."""
        return kind_name(self.speech, name)

    def money(self, amount: Decimal) -> str:
        """An amount with the decimals of the currency."""
        return self.speech.fixed(amount, decimals(self.cooperative.currency))

    def with_currency(self, amount: Decimal) -> str:
        """An amount with the code of the currency."""
        return f"{self.money(amount)} {self.cooperative.currency}"

    @property
    def before(self) -> date:
        """The day before."""
        return self.day - timedelta(days=1)

    @property
    def after(self) -> date | None:
        """The day after, up to today."""
        return self.day + timedelta(days=1) if self.day < self.today else None


def opened_page(tx: Transaction, settings: Settings, token: str, now: datetime, day: date | None = None) -> Seen:
    """The page that a link opens. Raises BadLink or NotManager."""
    opened = links.opened_cooperative(settings, token)
    managers = {each.id: each for each in cooperatives.managers(tx, opened.farm_id)}
    manager = managers.get(opened.person_id)
    if manager is None or manager.blocked_at is not None:
        raise NotManager(opened.person_id)
    forms.check_not_void(tx, opened, manager)
    one = cooperatives.cooperative(tx, opened.farm_id)
    today = local_day(one, now)
    chosen = today if day is None else min(day, today)
    others = tuple(
        (each.name, links.cooperative_path(settings, each.id, manager.id, opened.made_at))
        for each in cooperatives.managed_by(tx, manager.id)
        if each.id != one.id
    )
    return Seen(one, manager, chosen, today, f"/cooperative/{token}", links.form_key(settings, opened), others)


def do(
    settings: Settings,
    books: Books,
    token: str,
    now: datetime,
    what: str,
    action: Callable[[Office], Outcome],
    house: House,
) -> Answer:
    """Do what a form of ours asks for, as if the manager had texted it. Raises BadLink, NotManager or CannotDo."""
    opened = links.opened_cooperative(settings, token)
    try:
        return forms.do(
            settings,
            books,
            opened,
            now,
            what,
            lambda tx: opened_page(tx, settings, token, now).manager,
            lambda incoming: act_for_cooperative(books, incoming, now, opened.farm_id, action, house),
        )
    except LookupError as gone:
        raise NotManager(opened.person_id) from gone
