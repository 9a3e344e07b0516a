"""What every form of ours does: it comes from our own page, carries its key, and asks for something as its sender's text would."""

import secrets
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal, InvalidOperation

from flask import abort, request

from bot.books import Books, Transaction, people
from bot.books.model import Person
from bot.pages import links
from bot.pages.links import BadLink, Opened
from bot.pages.practice import refuse_other_sites
from bot.settings import Settings
from bot.speech.language import later
from bot.speech.refusal import Refusal
from bot.talk.exchange import Answer, Incoming

#: A figure on a form is below this.
HIGHEST = 10_000_000


class CannotDo(Refusal):
    """What the form asks for cannot be done; the message says why."""


def do(
    settings: Settings,
    books: Books,
    opened: Opened,
    now: datetime,
    what: str,
    sender: Callable[[Transaction], Person],
    answer: Callable[[Incoming], Answer],
) -> Answer:
    """Do what a form asks for, as if its sender had texted it. Raises BadLink for a form that is not ours.

    `sender` says whose link it is, and refuses where it opens nothing any more.
    """
    refuse_other_sites()
    links.check_form_key(settings, opened, request.form.get("key", ""))
    with books.transaction() as tx:
        person = sender(tx)
    return answer(Incoming(f"page-{secrets.token_hex(10)}", person.number, f"[page] {what}", now, now, "page"))


def check_not_void(tx: Transaction, opened: Opened, person: Person) -> None:
    """Raises BadLink for a link that its holder made void."""
    since = people.links_since(tx, person.id)
    if since is not None and opened.made_at < since.replace(microsecond=0):
        raise BadLink(later("This link was made void. Text the bot: link"))


def field(name: str, most: int = 200) -> str:
    """A field of the form that was sent, without spaces around it."""
    value = request.form.get(name, "").strip()
    if len(value) > most:
        abort(400, f"The field {name} is too long.")
    return value


def number(name: str, *, zero: bool = False) -> Decimal:
    """A figure of the form that was sent, with a point or a comma; `zero` may be one too. Raises CannotDo."""
    written = field(name, 20)
    try:
        found = Decimal(written.replace(",", "."))
    except InvalidOperation as fault:
        raise CannotDo(later("Write a number like 1.55, not {text}."), text=written or "-") from fault
    if not found.is_finite() or not (0 < found < HIGHEST or (zero and found == 0)):
        raise CannotDo(later("{text} cannot be. Nothing was changed."), text=written)
    return found
