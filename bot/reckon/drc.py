"""The DRC that a line of latex is reckoned with, and how sure it is."""

from bot.books.model import FarmSettings
from bot.reckon.batches import Drc
from bot.rubber.reference import value
from parsers.reading import Record

#: Standard deviations from the middle to either end of the range that holds 80 % of a normal distribution.
NORMAL_80 = 1.2816


def drc_of(record: Record, settings: FarmSettings) -> Drc:
    """The DRC in the text where it gives one, otherwise the farm's setting, each with its 80 % range."""
    if record.drc is not None:
        return _around(float(record.drc), value("drc_reading_spread"), "text")
    return _around(float(settings.drc_percent), value("drc_spread"), "farm")


def _around(percent: float, spread: float, basis: str) -> Drc:
    reach = NORMAL_80 * spread
    return Drc(percent, max(percent - reach, 0.0), min(percent + reach, 100.0), basis)
