"""From weight to money: latex by dry kilo, lump by dry content, sheets by grade and moisture, deductions.

Weights paid for are Decimal kg, rounded to the gram (halves up); amounts are rounded once, to the currency's minor
unit.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from bot.rubber.money import HIGHEST_AMOUNT, MoneyError, rounded
from bot.rubber.selling_reference import GRADES, Grade

GRAM = Decimal("0.001")
HIGHEST_KG = Decimal(10) ** 9
HUNDRED = Decimal(100)

Form = Literal["latex", "lump", "sheets"]
Basis = Literal["kg", "percent", "sale"]


class SaleError(MoneyError):
    """A weight, content or price that no sale can be worked out from."""


@dataclass(frozen=True)
class Deduction:
    """What is taken off a sale: so much a kg paid for, so many percent of it, or so much a sale."""

    label: str
    amount: Decimal
    basis: Basis


@dataclass(frozen=True)
class DeductionLine:
    """A deduction and what it comes to."""

    deduction: Deduction
    amount: Decimal


@dataclass(frozen=True)
class Sale:
    """A sale: kg brought and paid for, price a kg, amount before and after deductions, the rule and its sources."""

    form: Form
    brought_kg: Decimal
    paid_kg: Decimal
    price: Decimal
    before: Decimal
    deductions: tuple[DeductionLine, ...]
    amount: Decimal
    rule: str
    sources: tuple[str, ...]


def latex_sale(
    latex_kg: Decimal, drc_percent: Decimal, price_dry: Decimal, exponent: int, deductions: Sequence[Deduction] = ()
) -> Sale:
    """Latex is paid by its dry rubber: 100 kg at 32 % are paid as 32 kg.

    Raises SaleError for weights or prices below 0, a DRC outside 0 to 100 %, or deductions above the sale.
    """
    rule = f"{latex_kg} kg latex x {drc_percent}% DRC"
    dry = dry_kg(latex_kg, drc_percent)
    return _sale("latex", latex_kg, dry, price_dry, exponent, deductions, rule, "Kerala latex prices")


def lump_sale(
    lump_kg: Decimal, dry_percent: Decimal, price_dry: Decimal, exponent: int, deductions: Sequence[Deduction] = ()
) -> Sale:
    """Lump, slab and scrap are paid by dry content, on a straight line from the price of 100 % dry rubber.

    Raises SaleError as `latex_sale` does.
    """
    rule = f"{lump_kg} kg lump x {dry_percent}% dry"
    dry = dry_kg(lump_kg, dry_percent)
    return _sale("lump", lump_kg, dry, price_dry, exponent, deductions, rule, "South Sumatra list")


def sheet_sale(
    sheets_kg: Decimal,
    price: Decimal,
    exponent: int,
    *,
    moisture_percent: Decimal | None = None,
    contract_percent: Decimal | None = None,
    deductions: Sequence[Deduction] = (),
) -> Sale:
    """Sheets are paid by weight at the price of their grade; with moisture and contract moisture, by re-based weight.

    Raises SaleError as `latex_sale` does, and if only one of the two moistures is given.
    """
    if (moisture_percent is None) != (contract_percent is None):
        raise SaleError("both the moisture of the sheets and that of the contract are needed, or neither")
    paid, rule = _weight(sheets_kg, "the weight"), f"{sheets_kg} kg sheets"
    if moisture_percent is not None and contract_percent is not None:
        paid = rebased_kg(sheets_kg, moisture_percent, contract_percent)
        rule += f", {moisture_percent}% moisture paid as {contract_percent}%"
    return _sale("sheets", sheets_kg, paid, price, exponent, deductions, rule, "mass balance")


def dry_kg(wet_kg: Decimal, dry_percent: Decimal) -> Decimal:
    """Dry rubber (kg) in so many kg of latex or lump of a dry content in %, to the gram.

    Raises SaleError for a weight below 0 or a content outside 0 to 100 %.
    """
    return _gram(_weight(wet_kg, "the weight") * _percent(dry_percent, "the dry content") / HUNDRED)


def rebased_kg(kg: Decimal, moisture_percent: Decimal, contract_percent: Decimal) -> Decimal:
    """The weight at the contract's moisture (%, of the wet weight) that holds as much rubber, to the gram.

    Raises SaleError for moistures outside 0 to below 100 %.
    """
    dry = _weight(kg, "the weight") * (HUNDRED - _percent(moisture_percent, "the moisture"))
    contract = HUNDRED - _percent(contract_percent, "the contract's moisture")
    if not contract:
        raise SaleError("the contract's moisture has to be below 100 %")
    return _gram(dry / contract)


def price_by_content(price_dry: Decimal, dry_percent: Decimal, exponent: int) -> Decimal:
    """The price a kg at a dry content in %, from that of dry rubber, rounded as price lists are.

    Raises SaleError for a price below 0 or a content outside 0 to 100 %.
    """
    return rounded(_price(price_dry) * _percent(dry_percent, "the dry content") / HUNDRED, exponent)


def grade(text: str) -> Grade:
    """The grade that a text names: `RSS3`, `rss 3`, `RSS 1X`.

    Raises SaleError for any other.
    """
    name = re.sub(r"[\s.-]", "", text).upper()
    if name not in GRADES:
        raise SaleError(f'"{text}" is no grade known here; the grades are {", ".join(GRADES)}')
    return GRADES[name]


def price_of_grade(text: str, prices: Mapping[str, Decimal]) -> Decimal:
    """The price of a grade in a list by grade name.

    Raises SaleError if the grade is not known, or has no price in the list.
    """
    name = grade(text).name
    if name not in prices:
        raise SaleError(f"there is no price for {name} today; there is for {', '.join(prices) or 'none'}")
    return _price(prices[name])


def bales(kg: Decimal, bale_kg: Decimal) -> tuple[int, Decimal]:
    """Whole bales of a weight in so many kg, and the kg left over.

    Raises SaleError for a weight below 0 or a bale of 0 kg.
    """
    if not _weight(bale_kg, "the weight of a bale"):
        raise SaleError("a bale has to weigh more than 0 kg")
    number, rest = divmod(_weight(kg, "the weight"), bale_kg)
    return int(number), rest


def _sale(
    form: Form,
    brought: Decimal,
    paid: Decimal,
    price: Decimal,
    exponent: int,
    deductions: Sequence[Deduction],
    rule: str,
    source: str,
) -> Sale:
    before = rounded(paid * _price(price), exponent)
    lines = tuple(DeductionLine(each, _deducted(each, paid, before, exponent)) for each in deductions)
    amount = before - sum((line.amount for line in lines), Decimal(0))
    if amount < 0:
        raise SaleError(f"deductions of {before - amount} are more than the sale of {before}")
    return Sale(form, brought, paid, price, before, lines, amount, f"{rule} = {paid} kg x {price}", (source,))


def _deducted(deduction: Deduction, paid: Decimal, before: Decimal, exponent: int) -> Decimal:
    if not deduction.amount.is_finite() or not 0 <= deduction.amount <= HIGHEST_AMOUNT:
        raise SaleError(f"the deduction for {deduction.label} cannot be {deduction.amount}")
    match deduction.basis:
        case "kg":
            return rounded(paid * deduction.amount, exponent)
        case "percent":
            return rounded(before * deduction.amount / HUNDRED, exponent)
        case "sale":
            return rounded(deduction.amount, exponent)


def _weight(kg: Decimal, what: str) -> Decimal:
    if not kg.is_finite() or not 0 <= kg <= HIGHEST_KG:
        raise SaleError(f"{what} cannot be {kg} kg")
    return kg


def _percent(percent: Decimal, what: str) -> Decimal:
    if not percent.is_finite() or not 0 <= percent <= HUNDRED:
        raise SaleError(f"{what} lies between 0 and 100 %, not {percent}")
    return percent


def _price(price: Decimal) -> Decimal:
    if not price.is_finite() or not 0 <= price <= HIGHEST_AMOUNT:
        raise SaleError(f"a price cannot be {price}")
    return price


def _gram(kg: Decimal) -> Decimal:
    return kg.quantize(GRAM, ROUND_HALF_UP)
