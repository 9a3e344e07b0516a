"""What a collector took, as money: kilos that are paid for, the price, the amount, and what is kept of how it came about.

Sheets are paid by weight, and where moisture above what the best raw grade holds was measured, by the weight at that
moisture. Latex is paid by its dry rubber. Lump is paid by its dry rubber where moisture or dry content was said, and by its
weight as it is where not: age alone never decides about money. Weights are Decimal kg to the gram.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from bot.books.model import Entry, Farm
from bot.reckon.chain import taken_here
from bot.reckon.pay_terms import exponent
from bot.rubber.latex import kg_from_litres
from bot.rubber.money import rounded
from bot.rubber.reference import REFERENCE_VERSION, value
from bot.rubber.selling import GRAM, Sale, latex_sale, lump_sale, sheet_sale
from parsers.reading import Record
from parsers.taking import Lot

#: Moisture that sheets may hold without anything being taken off, % of the wet weight (Thai raw-sheet grades).
ALLOWED_MOISTURE = Decimal(str(value("sold_moisture")))

HUNDRED = Decimal(100)


@dataclass(frozen=True)
class Price:
    """A price a kg that is paid for, and where it comes from: `text`, or `list` (the cooperative's price of the day)."""

    a_kg: Decimal
    source: str


@dataclass(frozen=True)
class Taken:
    """A lot with its figures. `amount` is None where there is no price; `drc` is the dry content that latex was paid by."""

    lot: Lot
    paid_kg: Decimal
    price: Price | None
    amount: Decimal | None
    drc: Decimal | None = None
    drc_estimated: bool = False

    @property
    def record(self) -> Record:
        """The record as it is entered, with its price."""
        price = None if self.price is None else self.price.a_kg
        return self.lot.record.with_(price=price)


def kind_of(lot: Lot) -> str:
    """The line of a price list that a lot belongs to: its grade, or `sheets`, `latex`, `lump`."""
    return lot.record.grade or lot.form if lot.form == "sheets" else lot.form


def reckoned(lot: Lot, farm: Farm, price: Price | None, drc: Decimal | None) -> Taken:
    """The figures of a lot. `drc` is what the farm's book lets expect of its latex, in percent, where no DRC was said.

    Raises MoneyError (SaleError) for weights, contents and prices that cannot be.
    """
    sale, content = _sale(lot, farm, Decimal(0) if price is None else price.a_kg, drc)
    amount = None if price is None else sale.amount
    estimated = lot.form == "latex" and lot.record.drc is None
    return Taken(lot, sale.paid_kg, price, amount, content, estimated)


def _sale(lot: Lot, farm: Farm, price: Decimal, drc: Decimal | None) -> tuple[Sale, Decimal | None]:
    record, places = lot.record, exponent(farm)
    kg = record.kg or Decimal(0)
    if lot.form == "latex":
        dry = record.drc or drc or farm.settings.drc_percent
        return latex_sale(latex_kg(record, dry), dry, price, places), dry
    if lot.form == "lump":
        content = record.drc if record.drc is not None else None if lot.moisture is None else HUNDRED - lot.moisture
        return lump_sale(kg, HUNDRED if content is None else content, price, places), content
    if lot.moisture is None or lot.moisture <= ALLOWED_MOISTURE:
        return sheet_sale(kg, price, places), None
    return sheet_sale(kg, price, places, moisture_percent=lot.moisture, contract_percent=ALLOWED_MOISTURE), None


def latex_kg(record: Record, drc: Decimal) -> Decimal:
    """The mass of latex that was weighed, or measured in litres, to the gram."""
    if record.kg is not None:
        return record.kg
    return Decimal(str(kg_from_litres(float(record.litres or 0), float(drc)))).quantize(GRAM)


def kept(taken: Taken, expected: Mapping[str, Any] | None) -> dict[str, Any]:
    """What is stored with the entry, so that the amount and its rule can be told later. Figures are texts."""
    lot = taken.lot
    plain = {
        "form": lot.form,
        "kind": kind_of(lot),
        "tare_kg": lot.tare_kg,
        "moisture": lot.moisture,
        "age_days": lot.age_days,
        "notes": list(lot.notes) or None,
        "paid_kg": taken.paid_kg,
        "amount": taken.amount,
        "price_from": None if taken.price is None else taken.price.source,
        "drc": taken.drc if taken.drc_estimated else None,
        "expected": None if expected is None else dict(expected),
        "reference": REFERENCE_VERSION,
    }
    return {name: str(each) if isinstance(each, Decimal) else each for name, each in plain.items() if each is not None}


def lot_of(entry: Entry) -> Lot:
    """The lot of a take that stands, also of one that was entered before such figures were kept."""
    known = entry.computed or {}
    return Lot(
        entry.record,
        known.get("form", "sheets"),
        _decimal(known.get("tare_kg")),
        _decimal(known.get("moisture")),
        known.get("age_days"),
        tuple(known.get("notes", ())),
    )


def paid_kg(entry: Entry) -> Decimal:
    """The kilos of a take that are paid for."""
    return _decimal((entry.computed or {}).get("paid_kg")) or entry.record.kg or Decimal(0)


def amount(farm: Farm, entry: Entry) -> Decimal | None:
    """What a take came to, in the decimals in which the currency is paid; None where it has no price.

    A take that was entered without kept figures is weight times price, rounded half up.
    """
    kept_amount = _decimal((entry.computed or {}).get("amount"))
    if kept_amount is not None:
        return kept_amount
    if entry.record.kg is None or entry.record.price is None:
        return None
    return rounded(entry.record.kg * entry.record.price, exponent(farm))


def amount_of(farm: Farm, standing: Iterable[Entry]) -> Decimal:
    """The sum of the amounts of all takes from this farm among these entries."""
    found = (amount(farm, entry) for entry in standing if taken_here(entry.record, farm.name))
    return sum((each for each in found if each is not None), Decimal(0))


def _decimal(text: object) -> Decimal | None:
    return None if text is None else Decimal(str(text))
