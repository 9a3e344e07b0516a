"""The practice phone: texts that come from a page or a terminal and go nowhere, through the same talk as all others."""

import secrets
from collections.abc import Iterator
from datetime import datetime

from bot.books import Books
from bot.books.model import Waiting
from bot.carriers.carrier import Clock, Lack
from bot.jobs import Send
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


class Practice:
    """The practice phone as a carrier: texts come from its page (`bot.pages.practice`) or the terminal."""

    name = CARRIER

    def doors(self, books: Books, clock: Clock, house: House) -> None:
        """None: its page is not for machines."""

    def sender(self, books: Books | None, clock: Clock) -> Send:
        """Takes every text."""
        return deliver

    def asker(self, books: Books, clock: Clock) -> None:
        """None: it takes every text at once."""

    def lacks(self) -> Iterator[Lack]:
        """Nothing."""
        return iter(())

    def says(self) -> str:
        """That nobody is texted."""
        return "demonstration: texts go to the practice phone"
