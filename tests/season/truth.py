"""What people meant to say, to the millilitre and the gram, and the money that comes of it by arithmetic of its own."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

GRAM, CENT, HUNDRED = Decimal("0.001"), Decimal("0.01"), Decimal(100)

#: Moisture that nothing is taken off for, % (`sold_moisture` of the reference: best Thai raw sheet).
ALLOWED = Decimal("1.5")


@dataclass(frozen=True)
class Line:
    """A line of a farm's book: what, of which block and day, by whose number; millilitres, grams or pieces."""

    farm: str
    day: date
    what: str
    by: str
    block: str | None = None
    ml: int | None = None
    grams: int | None = None
    count: int | None = None


@dataclass
class Taking:
    """A lot that was taken: `net_kg` without the tare; `price` None where the list has none. Changed when it is corrected."""

    farm: str
    day: date
    by: str
    form: str
    net_kg: Decimal
    price: Decimal | None
    sheets: int | None = None
    grade: str | None = None
    tare_kg: Decimal | None = None
    moisture: Decimal | None = None
    drc: Decimal | None = None
    why: str | None = None
    receipt: int = 0
    corrected: bool = False

    @property
    def kind(self) -> str:
        """The line of the price list."""
        return self.grade or self.form

    @property
    def paid_kg(self) -> Decimal:
        """Kilos that are paid for: of sheets at the moisture that is allowed, of lump and latex dry."""
        kg = self.net_kg
        if self.drc is not None:
            kg = kg * self.drc / HUNDRED
        elif self.moisture is not None and self.form == "lump":
            kg = kg * (HUNDRED - self.moisture) / HUNDRED
        elif self.moisture is not None and self.moisture > ALLOWED:
            kg = kg * (HUNDRED - self.moisture) / (HUNDRED - ALLOWED)
        return kg.quantize(GRAM, ROUND_HALF_UP)

    @property
    def amount(self) -> Decimal | None:
        """Money, to the last unit."""
        return None if self.price is None else (self.paid_kg * self.price).quantize(CENT, ROUND_HALF_UP)

    def figures(self) -> tuple[object, ...]:
        """What has to stand in the book of this take."""
        return (
            self.receipt, self.farm, self.day, self.by, self.form, self.sheets, self.net_kg, self.grade, self.tare_kg,
            self.moisture, self.drc, self.why, self.price, self.paid_kg, self.amount,
        )  # fmt: skip


@dataclass
class Payment:
    """What a farm's owner settled: for whom, what was paid, and what is still owed by him."""

    farm: str
    by: str
    first: date
    last: date
    paid: Decimal
    owed: Decimal


@dataclass
class Ledger:
    """The truth so far. What is delivered counts, in the moment in which the house has it."""

    lines: Counter[Line] = field(default_factory=Counter)
    takings: list[Taking] = field(default_factory=list)
    arrivals: set[tuple[str, date, str]] = field(default_factory=set)
    disputes: set[int] = field(default_factory=set)
    prices: dict[str, list[tuple[date, Decimal]]] = field(default_factory=dict)
    payments: list[Payment] = field(default_factory=list)

    def write(self, line: Line) -> None:
        """A line that was entered."""
        self.lines[line] += 1

    def instead(self, old: Line, new: Line) -> None:
        """A line that takes the place of another."""
        self.lines[old] -= 1
        self.lines[new] += 1

    def price(self, kind: str, day: date) -> Decimal | None:
        """The cooperative's price of a day."""
        known = [price for since, price in self.prices.get(kind, ()) if since <= day]
        return known[-1] if known else None

    def receipt(self, number: int) -> Taking | None:
        """The take with a receipt's number."""
        return next((each for each in reversed(self.takings) if each.receipt == number), None)

    def paid_out(self, day: date, farm: str | None = None) -> Decimal:
        """Money of a day's takes."""
        own = [each for each in self.takings if each.day == day and farm in (None, each.farm)]
        return sum((each.amount for each in own if each.amount is not None), Decimal("0.00"))
