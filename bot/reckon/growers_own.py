"""A grower's account with a cooperative: what was paid out to him, and what has gathered since the last pay-out."""

from dataclasses import dataclass
from decimal import Decimal

from bot.books import Transaction, cooperatives, payouts
from bot.books.cooperatives import Cooperative
from bot.books.model import Farm
from bot.books.payouts import Closed
from bot.reckon.payouts import Owed, owed


@dataclass(frozen=True)
class Account:
    """A farm's account with a cooperative: its pay-outs, the newest first, and what the next one would come to now."""

    cooperative: Cooperative
    closed: tuple[Closed, ...]
    due: Owed


def accounts(tx: Transaction, farm: Farm, most: int) -> list[Account]:
    """The accounts of a farm, each with its last pay-outs: that with its own cooperative, and with former ones."""
    return [
        Account(each, tuple(payouts.closed_to(tx, each.id, farm.id, most)), owed(tx, each, farm.id))
        for each in cooperatives.of_grower(tx, farm.id)
    ]


def lines_of(closed: Closed) -> list[tuple[str, str, Decimal]]:
    """How a closed pay-out came about: kind, rule, amount."""
    return [(kind, rule, Decimal(amount)) for kind, rule, amount in closed.slip]
