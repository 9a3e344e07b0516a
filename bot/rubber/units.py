"""Units of the trade and their size: rai, acre, imperial gallon, quintal, pound, inch and their metric kin.

A gallon here is the imperial one (4.54609 L); the gallon of the United States is a sixth smaller.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

Kind = Literal["area", "volume", "mass", "length"]


class UnitError(ValueError):
    """A unit that is not known, or two that measure different things."""


@dataclass(frozen=True)
class Unit:
    """A unit: its name, what it measures, and its size in hectares, litres, kilograms or centimetres (exact)."""

    name: str
    kind: Kind
    size: Decimal


def _units(rows: Iterable[tuple[str, Kind, str]]) -> Mapping[str, Unit]:
    return MappingProxyType({name: Unit(name, kind, Decimal(size)) for name, kind, size in rows})


UNITS: Mapping[str, Unit] = _units(
    [
        ("ha", "area", "1"),
        ("rai", "area", "0.16"),
        ("acre", "area", "0.40468564224"),
        ("L", "volume", "1"),
        ("ml", "volume", "0.001"),
        ("gallon", "volume", "4.54609"),
        ("kg", "mass", "1"),
        ("g", "mass", "0.001"),
        ("quintal", "mass", "100"),
        ("t", "mass", "1000"),
        ("lb", "mass", "0.45359237"),
        ("cm", "length", "1"),
        ("mm", "length", "0.1"),
        ("inch", "length", "2.54"),
    ]
)


def unit(name: str) -> Unit:
    """The unit of that name.

    Raises UnitError, with the names that are known, for any other.
    """
    if name not in UNITS:
        raise UnitError(f'"{name}" is no unit known here; known are {", ".join(UNITS)}')
    return UNITS[name]


def convert(quantity: Decimal, one: str, other: str) -> Decimal:
    """A quantity in another unit: `convert(Decimal(1), "rai", "ha")` is 0.16.

    Raises UnitError for unknown units or two of different kinds.
    """
    return quantity * _ratio(one, other)


def price_per(price: Decimal, one: str, other: str) -> Decimal:
    """A price a unit as the price of another: a price a pound times 2.2046 is that a kilogram.

    Raises UnitError as `convert` does.
    """
    return price * _ratio(other, one)


def yield_per(quantity: Decimal, one: str, other: str) -> Decimal:
    """A quantity by area as that by another area: 250 kg a rai are 1,562.5 kg a hectare.

    Raises UnitError as `convert` does.
    """
    return price_per(quantity, one, other)


def _ratio(one: str, other: str) -> Decimal:
    first, second = unit(one), unit(other)
    if first.kind != second.kind:
        raise UnitError(f"{one} measures {first.kind}, {other} measures {second.kind}")
    return first.size / second.size
