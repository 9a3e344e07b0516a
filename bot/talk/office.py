"""What a manager's handler has before it: the cooperative, who texts, the text, and the open transaction."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from zoneinfo import ZoneInfo

from bot.books import Transaction, cooperatives, farms
from bot.books.convert import folded
from bot.books.cooperatives import Cooperative
from bot.books.model import Person
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Desk, Told
from bot.talk.exchange import Incoming
from bot.talk.house import House


@dataclass(frozen=True)
class Office:
    """A manager at his cooperative with one text before him. `proven` says that more than the number tells who he is.

    `of_several` says that he manages others too: then its name in a text says only which one is meant.
    """

    tx: Transaction
    cooperative: Cooperative
    me: Person
    message: Incoming
    now: datetime
    house: House
    proven: bool = False
    of_several: bool = False

    @cached_property
    def text(self) -> str:
        """What the text says, without the name of the cooperative where that only says which one is meant."""
        return without_name(self.message.text, self.cooperative.name) if self.of_several else self.message.text

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


def name_in(text: str, name: str) -> tuple[int, int] | None:
    """Where the whole words of a name stand in a text, whatever their case and marks: places of its words, or None."""
    words, wanted = _words(text), [folded(word) for word in name.split()]
    for at in range(len(words) - len(wanted) + 1):
        if words[at : at + len(wanted)] == wanted:
            return at, at + len(wanted)
    return None


def without_name(text: str, name: str) -> str:
    """A text without a name in it."""
    found = name_in(text, name)
    if found is None:
        return text
    pieces = text.split()
    return " ".join([*pieces[: found[0]], *pieces[found[1] :]])


def _words(text: str) -> list[str]:
    """The words of a text, comparable, without the signs around them."""
    return [folded(word.strip(".,;:!?()\"'")) for word in text.split()]
