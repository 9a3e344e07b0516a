"""Money in Decimal, rounded once and split so that nothing is lost.

An amount is a Decimal of whole minor units; `exponent` says how many decimals the currency has (2 for baht and rupees,
0 for rupiah and dong). Halves are rounded up. Of two sides one is computed and the other gets the rest; among several,
what rounding leaves over goes to the largest remainders. So the parts always add up, and nobody is off by a whole minor
unit.
"""

import re
from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import TypeVar

HIGHEST_EXPONENT = 4
HIGHEST_AMOUNT = Decimal(10) ** 15

Name = TypeVar("Name")

_NUMBER = r"\d{1,9}(?:\.\d{1,9})?"
_SHARE = re.compile(rf"({_NUMBER})\s*(?:(%)|([:/])\s*({_NUMBER}))?", re.ASCII)


class MoneyError(ValueError):
    """An amount, a share or a currency that cannot be reckoned with."""


def minor_unit(exponent: int) -> Decimal:
    """The smallest amount of a currency: 0.01 for exponent 2, 1 for exponent 0.

    Raises MoneyError outside 0 to 4.
    """
    if not 0 <= exponent <= HIGHEST_EXPONENT:
        raise MoneyError(f"a currency has 0 to {HIGHEST_EXPONENT} decimals, not {exponent}")
    return Decimal(1).scaleb(-exponent)


def rounded(amount: Decimal, exponent: int) -> Decimal:
    """The amount in whole minor units, halves up (away from 0).

    Raises MoneyError for an amount that is no number or beyond 10^15.
    """
    unit = minor_unit(exponent)
    if not amount.is_finite() or abs(amount) > HIGHEST_AMOUNT:
        raise MoneyError(f"{amount} is no amount of money")
    return amount.quantize(unit, ROUND_HALF_UP)


def whole(amount: Decimal, exponent: int) -> Decimal:
    """The amount with the currency's decimals, if it has no more than these.

    Raises MoneyError where rounding would be needed: whoever pays decides about rounding, not whoever splits.
    """
    exact = rounded(amount, exponent)
    if exact != amount:
        raise MoneyError(f"{amount} has more decimals than the currency's {exponent}")
    return exact


def two_ways(amount: Decimal, share: Fraction, exponent: int) -> tuple[Decimal, Decimal]:
    """The share (0 to 1) of an amount, rounded, and the rest.

    Raises MoneyError for a share outside 0 to 1 or an amount with too many decimals.
    """
    if not 0 <= share <= 1:
        raise MoneyError("a share lies between nothing and the whole")
    one = _multiplied(whole(amount, exponent), share, exponent)
    return one, amount - one


def split(amount: Decimal, weights: Mapping[Name, Decimal | Fraction | int], exponent: int) -> dict[Name, Decimal]:
    """The amount split by weights of any size, by the method of largest remainders; ties go to whoever stands first.

    The parts add up to the amount, each within one minor unit of its exact share. Weights of grams or trees will do.
    Raises MoneyError for weights below 0 or all 0, or an amount with too many decimals.
    """
    exact_weights = {name: Fraction(weight) for name, weight in weights.items()}
    total = sum(exact_weights.values())
    if total <= 0 or min(exact_weights.values()) < 0:
        raise MoneyError("shares cannot be below 0 or all 0")
    unit = minor_unit(exponent)
    sign = -1 if amount < 0 else 1
    units = int(abs(whole(amount, exponent)) / unit)
    shares = {name: units * weight / total for name, weight in exact_weights.items()}
    parts = {name: int(share) for name, share in shares.items()}
    by_remainder = sorted(shares, key=lambda name: parts[name] - shares[name])
    for name in by_remainder[: units - sum(parts.values())]:
        parts[name] += 1
    return {name: sign * part * unit for name, part in parts.items()}


def share_of(text: str) -> Fraction:
    """A share as people write it: `45%`, `1/3`, `45:55` (the first of the two), `0.45`.

    Raises MoneyError for anything else or a share outside 0 to 1.
    """
    plain = text.strip()
    try:
        share = _read_share(plain)
    except (ValueError, ZeroDivisionError):
        raise MoneyError(f'"{text}" is no share; write it like 45%, 1/3 or 45:55') from None
    if not 0 <= share <= 1:
        raise MoneyError(f'"{text}" is not between nothing and the whole')
    return share


def _read_share(text: str) -> Fraction:
    """The share; ValueError or ZeroDivisionError where there is none."""
    match = _SHARE.fullmatch(text)
    if not match:
        raise ValueError(text)
    one, other = Fraction(match[1]), Fraction(match[4] or 1)
    if match[2]:
        return one / 100
    return one / (one + other) if match[3] == ":" else one / other


def _multiplied(amount: Decimal, share: Fraction, exponent: int) -> Decimal:
    """Exact product of an amount and a share, rounded once: a third has no exact Decimal."""
    unit = minor_unit(exponent)
    units = Fraction(amount) * share / Fraction(unit)
    up = abs(units) + Fraction(1, 2)
    return (-1 if units < 0 else 1) * (up.numerator // up.denominator) * unit
