"""What a farm's book had taught by the end of a day, kept so that only later lines need be read.

The texts are the business of `bot.reckon`. They can be worked out again at any time: `entries.enter` takes out what a line
about an earlier day makes untrue, in the same transaction.
"""

from dataclasses import dataclass
from datetime import date

from bot.books.ids import new_id
from bot.books.store import Transaction


@dataclass(frozen=True)
class Kept:
    """What was learned by the end of the day `through`. `basis` names all that it hangs on besides the lines."""

    through: date
    basis: str
    chain: str
    rubber: str
    litres: str


def newest(tx: Transaction, farm_id: str, before: date = date.max) -> Kept | None:
    """The newest that is kept of days before `before`."""
    rows = tx.run("learned_before", farm_id=farm_id, before=before.isoformat(), most=1)
    return Kept(**rows[0] | {"through": date.fromisoformat(rows[0]["through"])}) if rows else None


def hold(tx: Transaction, farm_id: str) -> None:
    """Let nobody enter a line for the farm until the transaction ends, so that what is kept is true of the lines read."""
    tx.run("hold_lesson", farm_id=farm_id, mark=new_id())


def keep(tx: Transaction, farm_id: str, kept: Kept, *, lasting: bool) -> None:
    """Keep what was learned; `lasting` is not thinned out. The farm must be held since before the lines were read."""
    tx.run(
        "keep_learned",
        farm_id=farm_id,
        through=kept.through.isoformat(),
        basis=kept.basis,
        lasting=int(lasting),
        chain=kept.chain,
        rubber=kept.rubber,
        litres=kept.litres,
    )


def thin(tx: Transaction, farm_id: str, before: date) -> None:
    """Of days before `before` keep only what is lasting."""
    tx.run("thin_learned", farm_id=farm_id, before=before.isoformat())


def drop(tx: Transaction, farm_id: str) -> None:
    """Nothing that was learned of the farm holds any more."""
    tx.run("drop_learned", farm_id=farm_id)
