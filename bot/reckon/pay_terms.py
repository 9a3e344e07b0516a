"""The terms by which a farm pays: how they are written, when it pays, and in what smallest unit."""

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from decimal import Decimal

from babel.numbers import get_currency_precision

from bot.books import Transaction, wages
from bot.books.model import Farm
from bot.rubber.money import MoneyError, share_of
from bot.rubber.pay import Norm, PerDay, PerHundredTrees, PerKilo, Share, Term
from bot.rubber.profiles import NAMES, profile


def exponent(farm: Farm) -> int:
    """Decimals in which the farm's currency is paid."""
    return decimals(farm.currency)


def decimals(currency: str) -> int:
    """Decimals in which a currency is paid: as its country's profile has them, otherwise as CLDR has."""
    paid = [each for each in map(profile, NAMES) if each.choice("currency").value == currency]
    return paid[0].currency_decimals if paid else int(get_currency_precision(currency))


def terms_of(given: Mapping[str, str]) -> tuple[Term, ...]:
    """Terms of pay from plain data: `per_kilo`, `per_100_trees`, `per_day`, `norm` (base/kg/over), `share`.

    Raises MoneyError for what is none of these or cannot be read.
    """
    found: list[Term] = []
    for name, value in given.items():
        if name == "share":
            found.append(Share(share_of(value)))
        elif name == "norm":
            base, kg, over = (_number(each) for each in value.split("/"))
            found.append(Norm(base, kg, over))
        elif name in _RATES:
            found.append(_RATES[name](_number(value)))
        else:
            raise MoneyError(f"{name} is no term of pay; use {', '.join(_RATES)}, norm or share")
    return tuple(found)


_RATES: Mapping[str, Callable[[Decimal], Term]] = {
    "per_kilo": PerKilo,
    "per_100_trees": PerHundredTrees,
    "per_day": PerDay,
}


def _number(text: str) -> Decimal:
    try:
        return Decimal(text.strip())
    except ArithmeticError as fault:
        raise MoneyError(f"{text!r} is no amount") from fault


def next_time(tx: Transaction, farm: Farm, today: date) -> tuple[date, date] | None:
    """The days to be settled next: from the day after the last settlement to the end of the last full pay period.

    None where no period has ended since. The periods are the farm's: `week` (Monday to Sunday), `fortnight` (1st to
    15th, 16th to the end) or `month`.
    """
    last = _period_end(farm.settings.pay_period, today)
    done = wages.settlements(tx, farm.id)
    first = max((each.last for each in done), default=None)
    start = _period_start(farm.settings.pay_period, last) if first is None else first + timedelta(days=1)
    return (start, last) if start <= last else None


def _period_end(period: str, today: date) -> date:
    """The last day of the last period that is over."""
    if period == "week":
        return today - timedelta(days=today.weekday() + 1)
    if period == "fortnight" and today.day > 15:
        return today.replace(day=15)
    return today.replace(day=1) - timedelta(days=1)


def _period_start(period: str, last: date) -> date:
    if period == "week":
        return last - timedelta(days=6)
    if period == "fortnight" and last.day > 15:
        return last.replace(day=16)
    return last.replace(day=1)
