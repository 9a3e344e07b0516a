"""What all pages of a farm share: who looks at it through which link, and what its forms do."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from bot.books import Books, Transaction, farms, people
from bot.books.model import Farm, Membership, Person
from bot.pages import forms, links
from bot.pages.week import NotOwner, owner_of
from bot.settings import Settings
from bot.speech.language import Tongue, page_tongue
from bot.talk.answer import act
from bot.talk.desk import Desk, Outcome, log_day
from bot.talk.exchange import Answer
from bot.talk.house import House


@dataclass(frozen=True)
class Page:
    """A page of a farm for one of its owners. `here` is the address of the farm's pages, `key` what its forms carry."""

    farm: Farm
    owner: Person
    members: tuple[Membership, ...]
    today: date
    here: str
    key: str

    @property
    def speech(self) -> Tongue:
        """The language of the one whose link it is."""
        return page_tongue(self.owner.language)


def opened_page(tx: Transaction, settings: Settings, token: str, now: datetime) -> Page:
    """The page that a link opens. Raises BadLink or NotOwner."""
    opened = links.opened(settings, token)
    members = people.members(tx, opened.farm_id)
    owner = owner_of(members, opened.person_id)
    forms.check_not_void(tx, opened, owner)
    farm = farms.farm(tx, opened.farm_id)
    today = log_day(now.astimezone(ZoneInfo(farm.timezone)))
    return Page(farm, owner, tuple(members), today, f"/farm/{token}", links.form_key(settings, opened))


def do(
    settings: Settings,
    books: Books,
    token: str,
    now: datetime,
    what: str,
    action: Callable[[Desk], Outcome],
    house: House,
) -> Answer:
    """Do what a form of ours asks for, as if its owner had texted it. Raises BadLink or NotOwner."""
    opened = links.opened(settings, token)
    try:
        return forms.do(
            settings,
            books,
            opened,
            now,
            what,
            lambda tx: opened_page(tx, settings, token, now).owner,
            lambda incoming: act(books, incoming, now, opened.farm_id, action, house),
        )
    except LookupError as gone:
        raise NotOwner(opened.person_id) from gone
