"""A cooperative of a hundred small farms for the tests of faults, and texts that are clear to enter."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count

from bot.books import Books, farms, people
from parsers.reading import Block, Role

FARMS, BLOCKS, DAYS = 100, 10, 14
START = datetime(2026, 1, 1, tzinfo=UTC)

#: Hundreds of the numbers: a tapper, an owner and a collector for each farm.
TAPPER, OWNER, COLLECTOR = 0, 1, 2


@dataclass(frozen=True)
class Text:
    """A text with what has to stand in the books once it is entered: millilitres of latex, or grams of sheets taken."""

    id: str
    number: str
    body: str
    ml: int | None
    grams: int | None

    @property
    def told(self) -> int:
        """How many others are told of it: owner and tapper of what was taken, nobody of latex."""
        return 0 if self.grams is None else 2


def number(farm: int, role: int) -> str:
    """The phone of somebody of a farm; invented, from the range that is kept free for such use."""
    return f"+447700900{role * 100 + farm:03}"


def furnish(books: Books) -> None:
    """Put farms and people into empty books."""
    names = [str(n) for n in range(1, BLOCKS + 1)]
    for n in range(FARMS):
        with books.transaction() as tx:
            farm = farms.add_farm(
                tx,
                name=f"Farm {n}",
                timezone="Asia/Bangkok",
                currency="USD",
                language="en",
                blocks={name: Block(280, Decimal(18)) for name in names},
                containers={},
                settings={},
                at=START,
            )
            for role, code in ((Role.TAPPER, TAPPER), (Role.OWNER, OWNER), (Role.COLLECTOR, COLLECTOR)):
                people.enrol(
                    tx,
                    name=f"{role.value.title()} {n}",
                    number=number(n, code),
                    language="en",
                    farm_id=farm.id,
                    role=role,
                    blocks=tuple(names) if role is Role.TAPPER else (),
                    at=START,
                    message_id=None,
                )


def texts(mine: range, today: datetime) -> Iterator[Text]:
    """Endless texts from the phones of some farms: latex of one block and day after another, and sheets taken."""
    for n in count():
        farm, turn = mine[n % len(mine)], n // len(mine)
        yield _take(farm, turn) if turn % 2 else _latex(farm, turn // 2, today)


def _latex(farm: int, turn: int, today: datetime) -> Text:
    ml = 15_000 + turn * 700 % 6_000
    block, day = turn % BLOCKS + 1, today - timedelta(days=turn // BLOCKS % DAYS)
    body = f"block {block} {ml / 1000:g} litres {day:%d %b}"
    return Text(f"SM{farm:03}L{turn:05}", number(farm, TAPPER), body, ml, None)


def _take(farm: int, turn: int) -> Text:
    grams = 5_000 + turn * 10
    return Text(f"SM{farm:03}T{turn:05}", number(farm, COLLECTOR), f"took 12 sheets {grams / 1000:g} kg", None, grams)
