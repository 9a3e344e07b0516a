"""What a cooperative pays out to a grower: his receipts, less its levy, less advances and goods, less what was left over.

A pay-out is never below nothing: what is more than the money due is carried to the next one. Amounts are Decimal in whole
minor units (see `money`); each line is rounded once, and the lines add up to the last unit.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from bot.rubber.money import HIGHEST_AMOUNT, MoneyError, minor_unit, rounded, whole

HUNDRED = Decimal(100)


@dataclass(frozen=True)
class PayOut:
    """What one pay-out comes to: `receipts` - `levy` - `deductions` - `brought` = `paid` - `carried`.

    `receipts` may be below 0 where receipts that were paid have been corrected since, `levy` then too; `deductions` where
    some were taken back. `brought` is what the pay-out before left to be taken off, `carried` what this one leaves.
    """

    receipts: Decimal
    levy: Decimal
    deductions: Decimal
    brought: Decimal
    paid: Decimal
    carried: Decimal


def levies(receipts: Mapping[Decimal, Decimal], exponent: int) -> dict[Decimal, Decimal]:
    """What a levy of so many percent takes of receipts, by its percentage; each rounded once, halves away from 0.

    Raises MoneyError for a percentage outside 0 to 100, or amounts with more decimals than the currency's.
    """
    found = {}
    for percent, amount in receipts.items():
        if not percent.is_finite() or not 0 <= percent <= HUNDRED:
            raise MoneyError(f"a levy lies between 0 and 100 %, not {percent}")
        found[percent] = rounded(whole(amount, exponent) * percent / HUNDRED, exponent)
    return found


def pay_out(
    receipts: Iterable[Decimal], levy: Iterable[Decimal], deductions: Iterable[Decimal], brought: Decimal, exponent: int
) -> PayOut:
    """The pay-out of these amounts. Raises MoneyError where one has more decimals than the currency, or `brought` is below 0."""
    gross, fee, off, before = (_sum(each, exponent) for each in (receipts, levy, deductions, (brought,)))
    if before < 0:
        raise MoneyError("what a pay-out left to be taken off cannot be below 0")
    rest, nothing = gross - fee - off - before, _sum((), exponent)
    return PayOut(gross, fee, off, before, paid=max(rest, nothing), carried=max(-rest, nothing))


def _sum(amounts: Iterable[Decimal], exponent: int) -> Decimal:
    total = sum((whole(each, exponent) for each in amounts), Decimal(0) * minor_unit(exponent))
    if abs(total) > HIGHEST_AMOUNT:
        raise MoneyError(f"{total} is no amount of money")
    return total
