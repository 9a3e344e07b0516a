"""Price supports of governments: the Malaysian production incentive by month and region.

Its published rates all follow one rule (an inference that fits ten published points): at 50 % dry content the rate is
what the average farm price lacks to the trigger price, at 100 % twice that. Check the month's published rate before
paying.
"""

from dataclasses import dataclass
from decimal import Decimal

from bot.rubber.money import MoneyError


@dataclass(frozen=True)
class Incentive:
    """Rates a kg of lump at 50 % and at 100 % dry content; `active` if there is one this month."""

    at_50: Decimal
    at_100: Decimal

    @property
    def active(self) -> bool:
        """True if the month pays an incentive; the fixed rate for latex is paid in such months only."""
        return self.at_50 > 0


def incentive(trigger: Decimal, average_price: Decimal) -> Incentive:
    """The month's rates from the trigger price and the average farm price of lump, both a kg at 50 % dry content.

    Raises MoneyError for prices below 0.
    """
    if trigger < 0 or average_price < 0:
        raise MoneyError("prices cannot be below 0")
    lacking = max(Decimal(0), trigger - average_price)
    return Incentive(lacking, 2 * lacking)
