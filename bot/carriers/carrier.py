"""What a carrier is: doors by which texts come in, a way to send texts to others and to ask after them, and what it lacks.

A carrier is a module in this folder with one class that has these five things, and a line in `carriers` below. The tests in
`tests/carriers/test_every_carrier.py` then hold for it: a line in the list there says how a text is brought to it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from flask import Blueprint

from bot.books import Books
from bot.jobs import Ask, Send
from bot.settings import Settings
from bot.talk.house import House

Clock = Callable[[], datetime]


@dataclass(frozen=True)
class Lack:
    """Something that a carrier is not ready for, and how to mend it; each is one line."""

    says: str
    mend: str


class Carrier(Protocol):
    """A way for texts, made from the settings. `name` stands beside each text in the books."""

    name: str

    def doors(self, books: Books, clock: Clock, house: House) -> Blueprint | None:
        """The HTTP doors: they check that a call is genuine and answer it. None where texts come in otherwise."""

    def sender(self, books: Books | None, clock: Clock) -> Send | None:
        """How a text that waits is handed over: a call with the text gives a Delivery, and does not raise.

        None where texts cannot be sent, or are fetched. Without books (they cannot be read) it sends all the same.
        """

    def asker(self, books: Books, clock: Clock) -> Ask | None:
        """How the carrier is asked after a text of which it is not known whether it went out; None where it cannot be."""

    def lacks(self) -> Iterator[Lack]:
        """What is missing for texts to come in and go out."""

    def says(self) -> str:
        """Where texts come in and how they go out, in one line."""


def carriers(settings: Settings) -> tuple[Carrier, ...]:
    """The carriers that are set up, the one that sends texts to others first; the practice phone where nobody else does.

    Without any other, Twilio: its door then refuses every call, and what it lacks can be said.
    """
    from bot.carriers.gateway import Gateway
    from bot.carriers.practice import Practice
    from bot.carriers.twilio import Twilio

    found: list[Carrier] = []
    if settings.demonstration and not (settings.gateway_keys or settings.sends):
        found.append(Practice())
    if settings.gateway_keys:
        found.append(Gateway(settings))
    if settings.twilio_auth_token or not found:
        found.append(Twilio(settings))
    if settings.sends_by is not None:
        found.sort(key=lambda each: each.name != settings.sends_by)
    return tuple(found)


def sender(settings: Settings, books: Books | None, clock: Clock) -> Send | None:
    """How waiting texts are sent, None where nobody sends them from here."""
    return carriers(settings)[0].sender(books, clock)


def asker(settings: Settings, books: Books, clock: Clock) -> Ask | None:
    """How the one who sends is asked after texts, None where he cannot be."""
    return carriers(settings)[0].asker(books, clock)
