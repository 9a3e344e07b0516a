"""What a manager's handler has before it: the cooperative, who texts, the text, and the open transaction."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from bot.books import Transaction, cooperatives, farms
from bot.books.cooperatives import Cooperative
from bot.books.model import Person
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Desk, Told
from bot.talk.exchange import Incoming
from bot.talk.house import House


@dataclass(frozen=True)
class Office:
    """A manager at his cooperative with one text before him. `proven` says that more than the number tells who he is."""

    tx: Transaction
    cooperative: Cooperative
    me: Person
    message: Incoming
    now: datetime
    house: House
    proven: bool = False

    @property
    def tongue(self) -> Tongue:
        """The sender's language."""
        return tongue(self.me.language)

    @property
    def sent(self) -> datetime:
        """The sending time on the cooperative's clock; a sending time ahead of ours is taken for ours."""
        return min(self.message.at, self.now).astimezone(ZoneInfo(self.cooperative.timezone))

    @property
    def today(self) -> date:
        """The day of the text."""
        return self.sent.date()

    def to_others(self, said: Callable[[str], str]) -> tuple[Told, ...]:
        """Word to the other managers of what this one did, each in his language."""
        others = [each for each in cooperatives.managers(self.tx, self.cooperative.id) if each.id != self.me.id]
        return tuple(Told(each, f"{self.me.name}: {said(each.language)}") for each in others)

    def desk(self, farm_id: str) -> Desk:
        """A desk at one of the cooperative's farms, without any role there: for what a manager may settle."""
        farm = farms.farm(self.tx, farm_id)
        return Desk(self.tx, farm, self.me, frozenset(), (), self.message, self.now, self.house)
