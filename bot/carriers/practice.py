"""The practice phone: texts that come from a page or a terminal and go nowhere, through the same talk as all others."""

import secrets
from datetime import datetime

from bot.books import Books
from bot.books.model import Waiting
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Delivery, Fate, Incoming
from bot.talk.house import PLAIN, House

CARRIER = "practice"


def text_as(
    books: Books, number: str, text: str, now: datetime, *, message_id: str | None = None, house: House = PLAIN
) -> Answer:
    """Send a text as the owner of that number. Without an id it is a new text; with one it may be a repeat."""
    incoming = Incoming(message_id or new_id(), number, text, at=now, arrived=now, carrier=CARRIER)
    return answer(books, incoming, now, house)


def new_id() -> str:
    """An id for a new text."""
    return f"practice-{secrets.token_hex(10)}"


def deliver(waiting: Waiting) -> Delivery:
    """Take a waiting text as sent: it can be seen on the practice phone of the one it is for."""
    return Delivery(Fate.SENT, carrier_id=f"practice-{waiting.id}")
