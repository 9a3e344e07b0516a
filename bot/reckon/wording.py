"""Sentences that are reckoned here and said elsewhere: they read as English, and keep what is needed to say them in any language."""

from decimal import Decimal


class Said(str):
    """An English sentence with its message and the values in it: words, numbers as Decimal with their places, other sentences."""

    message: str
    values: dict[str, object]
    __slots__ = ("message", "values")


def later(message: str, **values: object) -> Said:
    """The message with its values put in, to be said again in another language."""
    found = Said(message.format(**values))
    found.message, found.values = message, values
    return found


def figure(value: float, places: int = 1) -> Decimal:
    """A number with so many places."""
    return Decimal(f"{value:.{places}f}")
