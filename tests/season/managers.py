"""The manager: prices that change, the day by text and by page; and owners who look at their pages now and then."""

import re
from datetime import date, timedelta
from decimal import Decimal

from bot.speech.language import tongue
from tests.season.cooperative import PRICES, Someone
from tests.season.play import Play, Reply, Text

MONDAY = 0
_ADDRESS = re.compile(r"https://\S+")


class Managers:
    """What the manager texts and looks at, and which pages owners open."""

    def __init__(self, play: Play) -> None:
        self.play, self.dice = play, play.dice
        self.pages = self.closings = 0
        for kind, price in PRICES.items():
            play.ledger.prices[kind] = [(date(2025, 1, 1), Decimal(price))]
        play.habits.append(self.plan)
        play.listeners.append(self.hear)

    def plan(self, day: int, today: date) -> None:
        """The texts of a day."""
        if today.weekday() == MONDAY and day:
            self._prices(today)
        if self.dice.random() < 0.15:
            self._look(self.play.one.manager, "link", today)
        if self.dice.random() < 0.3:
            holding = self.dice.choice(self.play.one.holdings)
            self._look(holding.owner, "link", None)

    def _prices(self, today: date) -> None:
        """Before the first round of the week."""
        new = {
            kind: (self.play.ledger.price(kind, today) or Decimal(1)) + Decimal(self.dice.randrange(-4, 5)) / 100
            for kind in PRICES
            if self.dice.random() < 0.7
        }
        if not new:
            return
        self.play.slips["prices changed"] += len(new)
        body = "price " + ", ".join(f"{kind.lower()} {price}" for kind, price in new.items())

        def changed(_reply: Reply) -> None:
            for kind, price in new.items():
                self.play.ledger.prices[kind].append((today, price))

        self.play.send(Text(self.play.one.manager, body, self.play.hour(5.7), ("changed",), changed))

    def _look(self, who: Someone, body: str, today: date | None) -> None:
        """He asks for his page and opens it; the manager's has the day's money."""

        def opened(reply: Reply) -> None:
            found = _ADDRESS.search(str(reply["reply"]))
            if found is None:
                self.play.house.faults.append(f"{who.name} got no page: {reply['reply']!r}")
                return
            self.pages += 1
            page = self.play.house.open(found[0].rstrip("."))
            money = tongue("en").fixed(self.play.ledger.paid_out(self.play.today), 2)
            if today is not None and self.play.ledger.paid_out(self.play.today) and money not in page:
                self.play.house.faults.append(f"the manager's page of {today} lacks {money}")

        self.play.send(Text(who, body, self.play.hour(15 + self.dice.random()), ("answered",), opened))

    def hear(self, number: str, words: str) -> None:
        """The closing text has the day's money as it is in that moment."""
        day = self.play.house.now.astimezone(self.play.hour(0).tzinfo) + timedelta(hours=7)
        head = f"Three Hills {tongue('en').date(day.date())}:"
        if number != self.play.one.manager.number or not words.startswith(head):
            return
        self.closings += 1
        money = self.play.ledger.paid_out(day.date())
        said = f"Pay out {tongue('en').fixed(money, 2)} USD"
        if (said in words) != bool(money):
            self.play.house.faults.append(f"the closing text of {day:%F} lacks {said!r}: {words!r}")
