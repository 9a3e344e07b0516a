"""The play itself: texts and jobs in the order of the clock. What a text does to the truth counts once the house has taken it."""

import heapq
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import count
from random import Random
from typing import Any

from tests.season.cooperative import FIRST, Cooperative, Someone, moment
from tests.season.house import House
from tests.season.truth import Ledger

Reply = dict[str, Any]
Act = Callable[[], None]

#: Hours of the farms' clock at which the due jobs are run and texts to others fetched.
DUE = (7.1, 8.2, 10.0, 12.0, 14.1, 16.0, 18.1, 19.1, 20.5)


def nothing(_reply: Reply) -> None:
    """Nothing follows of an answer."""


@dataclass
class Text:
    """A text: when it is written, when it comes (None: at once), and whether the carrier says when it was written.

    `expects` are the outcomes that are right, `then` what follows of such an answer.
    """

    by: Someone
    body: str
    at: datetime
    expects: tuple[str, ...]
    then: Callable[[Reply], None] = nothing
    comes: datetime | None = None
    dated: bool = False
    asked: Callable[[Reply], None] | None = None


@dataclass
class Odd:
    """A text that the house took otherwise than was meant."""

    day: date
    by: str
    language: str
    body: str
    wanted: tuple[str, ...]
    outcome: str
    reply: str | None


@dataclass
class Play:
    """A season that is being played. `habits` plan what people do on a day; `listeners` hear each text that reaches somebody."""

    one: Cooperative
    house: House
    dice: Random
    ledger: Ledger = field(default_factory=Ledger)
    odd: list[Odd] = field(default_factory=list)
    slips: Counter[str] = field(default_factory=Counter)
    inbox: dict[str, list[str]] = field(default_factory=dict)
    habits: list[Callable[[int, date], None]] = field(default_factory=list)
    listeners: list[Callable[[str, str], None]] = field(default_factory=list)
    blocked: set[str] = field(default_factory=set)
    day: int = 0

    def __post_init__(self) -> None:
        self._n, self._acts = count(), list[tuple[datetime, int, Act]]()

    @property
    def today(self) -> date:
        """The day that is played."""
        return FIRST + timedelta(days=self.day)

    def play(self, days: int) -> None:
        """So many days more."""
        for _ in range(days):
            for plan in self.habits:
                plan(self.day, self.today)
            for hour in DUE:
                self.at(moment(self.today, hour), self._due)
            self._until(moment(self.today, 24))
            self.day += 1

    def at(self, when: datetime, act: Act) -> None:
        """Something happens then."""
        heapq.heappush(self._acts, (when, next(self._n), act))

    def hour(self, hour: float) -> datetime:
        """An hour of the day that is played."""
        return moment(self.today, hour)

    def _until(self, end: datetime) -> None:
        while self._acts and self._acts[0][0] < end:
            when, _, act = heapq.heappop(self._acts)
            self.house.now = max(self.house.now, when)
            act()

    def finish(self) -> None:
        """What is still on its way comes."""
        while self._acts:
            self._until(self._acts[0][0] + timedelta(minutes=1))
        self._due()

    def chance(self, probability: float, who: Someone | None = None) -> bool:
        """Whether something happens; slips happen as often as somebody is bent to them."""
        bent = self.one.shape.slips if who is None else who.slips
        return self.dice.random() < probability * bent

    def send(self, text: Text) -> str:
        """A text goes on its way from the phone that its sender has now. Returns its id."""
        text_id, number = f"t{next(self._n)}", text.by.number
        self.at(text.comes or text.at, lambda: self._comes(text_id, number, text))
        return text_id

    def _comes(self, text_id: str, number: str, text: Text) -> None:
        sent = text.at if text.dated else None
        reply = self.house.text(text_id, number, text.body, sent)
        if number in self.blocked and reply["outcome"] == "silent":
            self.slips["texts of blocked phones"] += 1
        elif reply["outcome"] == "asked" and text.asked is not None:
            self.slips["asked back"] += 1
            text.asked(reply)
        elif reply["outcome"] in text.expects:
            text.then(reply)
        else:
            self.odd.append(
                Odd(
                    self.today,
                    text.by.name,
                    text.by.language,
                    text.body,
                    text.expects,
                    reply["outcome"],
                    reply["reply"],
                )
            )
        if self.chance(0.03):
            self.slips["carrier repeats"] += 1
            later = self.house.now + timedelta(minutes=self.dice.choice((0, 1, 30, 300)))
            self.at(later, lambda: self._again(text_id, number, text, reply))

    def _again(self, text_id: str, number: str, text: Text, before: Reply) -> None:
        reply = self.house.text(text_id, number, text.body, text.at if text.dated else None)
        if not reply["repeat"] or reply["reply"] != before["reply"]:
            self.house.faults.append(
                f"{text_id} {text.body!r}: {before['reply']!r}, when it came again {reply['reply']!r}"
            )

    def _due(self) -> None:
        self.house.due()
        for number, words in self.house.fetch(loses=self.chance(0.02)):
            self.inbox.setdefault(number, []).append(words)
            for hear in self.listeners:
                hear(number, words)
