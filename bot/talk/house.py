"""What an operator sets up for the whole house and the talk needs: local words, and the way to an owner's pages."""

from collections.abc import Callable
from dataclasses import dataclass

from bot.talk.exchange import Answer, Incoming
from bot.talk.pace import Pace
from parsers.words import Words


def plainly(incoming: Incoming, work: Callable[[], Answer]) -> Answer:
    """Answer a text with nothing around it."""
    return work()


@dataclass(frozen=True)
class House:
    """`words` are the package's with an operator's laid over them (None: the package's own).

    `link` gives the address of the pages of a farm (first id) for one of its owners (second id); None where no page can be
    reached from outside. With `open_enrolment` a number that nobody enrolled may begin a farm by text. `requires_pin` refuses
    what moves money or people from an owner who has no PIN. `pace` is how many texts are answered (None: all).
    `around` is what stands around the answering of each text: it does the work it is given, and counts and times it.
    """

    words: Words | None = None
    link: Callable[[str, str], str] | None = None
    open_enrolment: bool = False
    requires_pin: bool = False
    pace: Pace | None = None
    around: Callable[[Incoming, Callable[[], Answer]], Answer] = plainly


#: A house without anything of its own.
PLAIN = House()
