"""Figures rounded as a person measures: water to the half litre, acid to the millilitre, dry weight to a tenth."""

from decimal import ROUND_HALF_UP, Decimal


def half_litres(litres: float) -> Decimal:
    """Litres as a person pours them, to the half litre."""
    return (Decimal(str(litres)) * 2).quantize(Decimal(1), ROUND_HALF_UP) / 2


def tenths(value: float) -> Decimal:
    """A tenth of a kilo or a litre."""
    return Decimal(str(value)).quantize(Decimal("0.1"), ROUND_HALF_UP)


def whole(value: float) -> Decimal:
    """Millilitres of acid, whole."""
    return Decimal(str(value)).quantize(Decimal(1), ROUND_HALF_UP)
