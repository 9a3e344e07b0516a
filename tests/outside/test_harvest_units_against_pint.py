"""Units of the trade against pint."""

from decimal import Decimal

import pint
import pytest

from bot.rubber.units import UNITS, convert, yield_per

REGISTRY = pint.UnitRegistry()
# Pint has no rai (6.25 of them are a hectare) and no quintal; its `acre` is the survey acre, ours the international.
REGISTRY.define("rai = hectare / 6.25")
REGISTRY.define("quintal = 100 * kilogram")

NAMES = {"L": "liter", "ml": "milliliter", "t": "metric_ton", "gallon": "imperial_gallon", "acre": "international_acre"}
REGISTRY.define("international_acre = 43560 * foot ** 2")
BASE = {"area": "hectare", "volume": "liter", "mass": "kilogram", "length": "centimeter"}


@pytest.mark.parametrize("name", UNITS)
def test_the_size_of_every_unit(name: str) -> None:
    unit = UNITS[name]
    size = REGISTRY.Quantity(1, NAMES.get(name, name)).to(BASE[unit.kind]).magnitude

    assert float(unit.size) == pytest.approx(size, rel=1e-9)


@pytest.mark.parametrize(
    ("quantity", "one", "other"),
    [
        ("250", "rai", "ha"),
        ("3", "gallon", "L"),
        ("58175", "lb", "kg"),
        ("89.72", "inch", "mm"),
        ("12.5", "quintal", "t"),
    ],
)
def test_conversions(quantity: str, one: str, other: str) -> None:
    converted = REGISTRY.Quantity(float(quantity), NAMES.get(one, one)).to(NAMES.get(other, other)).magnitude

    assert float(convert(Decimal(quantity), one, other)) == pytest.approx(converted, rel=1e-9)


def test_rain_at_henaratgoda_in_inches_and_millimetres() -> None:
    """Lock, tables XIV to XVI: months printed in inches; sums and millimetres derived."""
    inches = ["1.54", "0.61", "3.95", "4.43", "6.69", "9.01", "8.88", "7.04", "2.91", "24.86", "11.81", "7.99"]
    total = sum(map(Decimal, inches), Decimal(0))

    assert total == Decimal("89.72")
    assert sum([4, 1, 6, 6, 10, 12, 10, 9, 5, 16, 16, 9]) == 104
    assert convert(total, "inch", "mm") == pytest.approx(Decimal("2278.9"), abs=Decimal("0.05"))


def test_the_thai_floor_of_250_kilos_a_rai() -> None:
    """Derived from the floor of the Department of Agricultural Extension (copy): 1,562.5 kg a hectare."""
    assert yield_per(Decimal(250), "rai", "ha") == Decimal("1562.5")
