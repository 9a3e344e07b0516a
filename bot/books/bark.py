"""Bark left on the panels, as it was measured. Nothing is overwritten: of one block and day the latest measure counts."""

from dataclasses import dataclass
from datetime import date, datetime

from bot.books.convert import moment_out
from bot.books.ids import new_id
from bot.books.store import Transaction


@dataclass(frozen=True)
class Measured:
    """Bark left on the panel of a block on a day: mm down to its last cut. `panel` is its name where it was said."""

    block: str
    day: date
    mm: int
    panel: str | None = None

    @property
    def cm(self) -> float:
        """The bark in cm, as it is measured on the trunk."""
        return self.mm / 10


def measure(
    tx: Transaction, farm_id: str, found: Measured, *, person_id: str, message_id: str | None, at: datetime
) -> None:
    """Write down what somebody measured."""
    tx.run(
        "add_bark",
        id=new_id(),
        farm_id=farm_id,
        block=found.block,
        panel=found.panel,
        day=found.day.isoformat(),
        mm=found.mm,
        person_id=person_id,
        message_id=message_id,
        at=moment_out(at),
    )


def measured(tx: Transaction, farm_id: str, last: date) -> dict[str, tuple[Measured, ...]]:
    """What was measured up to a day by block, oldest first; one measure a day."""
    by_day: dict[tuple[str, str], Measured] = {}
    for row in tx.run("bark_of_farm", farm_id=farm_id, last_day=last.isoformat()):
        day = date.fromisoformat(row["day"])
        by_day[row["block"], row["day"]] = Measured(row["block"], day, int(row["mm"]), row["panel"])
    found: dict[str, list[Measured]] = {}
    for each in by_day.values():
        found.setdefault(each.block, []).append(each)
    return {block: tuple(each) for block, each in found.items()}
