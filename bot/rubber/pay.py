"""What a tapper earns: by kilo, by trees, by the day, by a norm, by a share of the sale, or any mixture of these.

A farm's terms are a list; each gives its lines of pay, rounded once, and the lines add up to the pay. Amounts are
Decimal (see `money`). National law on wages, working time and age stands above any of this.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from bot.rubber.money import HIGHEST_AMOUNT, MoneyError, rounded, two_ways, whole

ZERO = Decimal(0)


class PayError(MoneyError):
    """Terms or work that no pay can be worked out from."""


@dataclass(frozen=True)
class Day:
    """A day's work: dry rubber in kg, and trees tapped."""

    dry_kg: Decimal = ZERO
    trees: int = 0


@dataclass(frozen=True)
class Cost:
    """A cost of a shared sale, such as acid or transport: taken off before the split, or borne by one side after it."""

    label: str
    amount: Decimal
    borne: Literal["before", "owner", "tapper"] = "before"


@dataclass(frozen=True)
class Work:
    """What is paid for: days worked, days offered (for attendance), and the sale with its costs if it is shared."""

    days: tuple[Day, ...] = ()
    days_offered: int = 0
    sales: Decimal = ZERO
    costs: tuple[Cost, ...] = ()

    @property
    def dry_kg(self) -> Decimal:
        """Dry rubber of all days."""
        return sum((day.dry_kg for day in self.days), ZERO)

    @property
    def trees(self) -> int:
        """Trees tapped, each counted as often as it was."""
        return sum(day.trees for day in self.days)


@dataclass(frozen=True)
class PerKilo:
    """So much a kg of dry rubber."""

    rate: Decimal


@dataclass(frozen=True)
class PerHundredTrees:
    """So much for every 100 trees tapped, in proportion."""

    rate: Decimal


@dataclass(frozen=True)
class PerDay:
    """So much a day worked: all days, those from so many dry kg, or all if attendance was good enough."""

    rate: Decimal
    label: str = "day's wage"
    from_kg: Decimal = ZERO
    from_attendance_percent: Decimal = ZERO


@dataclass(frozen=True)
class Norm:
    """So much a day up to a norm of dry kg, and so much for each kg above it.

    Below the norm the day's base is paid in full, or in proportion to what was brought.
    """

    base: Decimal
    norm_kg: Decimal
    over_rate: Decimal
    below: Literal["in full", "in proportion"] = "in full"


@dataclass(frozen=True)
class Share:
    """A share of the sale (0 to 1), costs as `Cost` says."""

    share: Fraction


Term = PerKilo | PerHundredTrees | PerDay | Norm | Share


@dataclass(frozen=True)
class PayLine:
    """One line of pay: what for, how it was worked out, and the amount."""

    label: str
    rule: str
    amount: Decimal


@dataclass(frozen=True)
class Pay:
    """Lines of pay and their sum, in a currency of so many decimals. A sum below 0 is owed, not paid."""

    lines: tuple[PayLine, ...]
    amount: Decimal
    exponent: int


@dataclass(frozen=True)
class Shares:
    """A sale shared by two: the sale, costs before, what was split, and what each side ends with. They add up.

    `tapper` and `owner` are after the costs that each bears alone; below 0 it is owed.
    """

    sales: Decimal
    costs_before: Decimal
    split: Decimal
    share: Fraction
    tapper_costs: Decimal
    owner_costs: Decimal
    tapper: Decimal
    owner: Decimal


def pay(work: Work, terms: Sequence[Term], exponent: int) -> Pay:
    """What the work earns by all terms together.

    Raises PayError for rates, kilos, trees or norms below 0, a norm of 0, or no terms at all; MoneyError for a share or
    an amount that cannot be.
    """
    if not terms:
        raise PayError("no terms of pay are agreed")
    _check_work(work)
    lines = tuple(line for term in terms for line in _lines(term, work, exponent))
    return Pay(lines, sum((line.amount for line in lines), rounded(ZERO, exponent)), exponent)


def share_sale(sales: Decimal, share: Fraction, costs: Sequence[Cost], exponent: int) -> Shares:
    """A sale shared between tapper and owner: costs before, split, costs of each side.

    The tapper's side is computed and rounded, the owner has the rest.
    Raises PayError if the costs before the split are more than the sale, or anything is below 0; MoneyError for a share
    outside 0 to 1 or amounts with too many decimals.
    """
    _not_below_zero(sales, "the sale")
    by_bearer = {bearer: _borne(costs, bearer, exponent) for bearer in ("before", "tapper", "owner")}
    shared = whole(sales, exponent) - by_bearer["before"]
    if shared < 0:
        raise PayError(f"costs of {by_bearer['before']} are more than the sale of {sales}")
    tapper, owner = two_ways(shared, share, exponent)
    return Shares(
        sales=whole(sales, exponent),
        costs_before=by_bearer["before"],
        split=shared,
        share=share,
        tapper_costs=by_bearer["tapper"],
        owner_costs=by_bearer["owner"],
        tapper=tapper - by_bearer["tapper"],
        owner=owner - by_bearer["owner"],
    )


def topped_up(earned: Pay, least: Decimal) -> Pay:
    """The pay with a line that lifts it to a guaranteed least, if it is below.

    Raises MoneyError for a guarantee with too many decimals.
    """
    missing = whole(least, earned.exponent) - earned.amount
    if missing <= 0:
        return earned
    line = PayLine("guarantee", f"up to {least}", missing)
    return Pay((*earned.lines, line), earned.amount + missing, earned.exponent)


@dataclass(frozen=True)
class Settlement:
    """Pay against an advance: earned = taken back now + paid out; and what is still owed."""

    earned: Decimal
    recovered: Decimal
    paid: Decimal
    still_owed: Decimal


def settle(earned: Decimal, owed: Decimal, exponent: int, most: Fraction = Fraction(1)) -> Settlement:
    """Takes an advance back from pay, but no more than a share of it (so that something is left to live on).

    Raises PayError if earned or owed are below 0; MoneyError for a share outside 0 to 1.
    """
    _not_below_zero(earned, "what is earned")
    _not_below_zero(owed, "what is owed")
    limit, _ = two_ways(earned, most, exponent)
    recovered = min(whole(owed, exponent), limit)
    return Settlement(whole(earned, exponent), recovered, earned - recovered, owed - recovered)


def _lines(term: Term, work: Work, exponent: int) -> list[PayLine]:
    match term:
        case PerKilo(rate):
            return [_line("by the kilo", work.dry_kg, "kg dry", rate, exponent)]
        case PerHundredTrees(rate):
            return [_line("by trees", Decimal(work.trees) / 100, "x 100 trees", rate, exponent)]
        case PerDay():
            return [_line(term.label, Decimal(_paid_days(term, work)), "days", term.rate, exponent)]
        case Norm():
            return _norm_lines(term, work, exponent)
        case Share(share):
            return [_share_line(share_sale(work.sales, share, work.costs, exponent))]


def _line(label: str, quantity: Decimal, unit: str, rate: Decimal, exponent: int) -> PayLine:
    _not_below_zero(rate, "a rate")
    return PayLine(label, f"{_plain(quantity)} {unit} x {rate}", rounded(quantity * rate, exponent))


def _paid_days(term: PerDay, work: Work) -> int:
    if term.from_attendance_percent:
        if not work.days_offered:
            raise PayError("attendance is paid, but the days offered are not known")
        if 100 * len(work.days) < term.from_attendance_percent * work.days_offered:
            return 0
    return sum(day.dry_kg >= term.from_kg for day in work.days)


def _norm_lines(term: Norm, work: Work, exponent: int) -> list[PayLine]:
    if not term.norm_kg > 0:
        raise PayError("a norm has to be above 0 kg")
    kilos = [day.dry_kg for day in work.days]
    over = sum((max(ZERO, kg - term.norm_kg) for kg in kilos), ZERO)
    days = Decimal(len(kilos))
    if term.below == "in proportion":
        days = sum((min(Decimal(1), kg / term.norm_kg) for kg in kilos), ZERO)
    base = _line(f"norm of {_plain(term.norm_kg)} kg", days, "days", term.base, exponent)
    return [base, _line("above the norm", over, "kg dry", term.over_rate, exponent)]


def _share_line(shares: Shares) -> PayLine:
    rule = f"{shares.share} of ({shares.sales} - {shares.costs_before})"
    if shares.tapper_costs:
        rule += f" - {shares.tapper_costs}"
    return PayLine("share of the sale", rule, shares.tapper)


def _borne(costs: Sequence[Cost], bearer: str, exponent: int) -> Decimal:
    amounts = [_not_below_zero(cost.amount, f"the cost of {cost.label}") for cost in costs if cost.borne == bearer]
    return sum((whole(amount, exponent) for amount in amounts), rounded(ZERO, exponent))


def _check_work(work: Work) -> None:
    for day in work.days:
        _not_below_zero(day.dry_kg, "the kilos of a day")
        _not_below_zero(Decimal(day.trees), "the trees of a day")
    if work.days_offered and work.days_offered < len(work.days):
        raise PayError(f"{len(work.days)} days worked of {work.days_offered} offered are not possible")


def _not_below_zero(amount: Decimal, what: str) -> Decimal:
    if not amount.is_finite() or not 0 <= amount <= HIGHEST_AMOUNT:
        raise PayError(f"{what} cannot be {amount}")
    return amount


def _plain(number: Decimal) -> str:
    """The number without trailing zeros: 14, 12.5."""
    return f"{number.normalize():f}"
