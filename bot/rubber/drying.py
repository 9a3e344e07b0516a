"""Drying: how many days, when a batch is ready, what moisture is left, and what selling too early costs.

Times are ranges: published ones differ threefold within a method. That rain stops the sun and halves a solar dryer is
common practice without a source. Moisture falls in proportion to what is left, so that a batch reaches 0.5 % on its
last day.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from bot.rubber.reference import source, value
from bot.rubber.sheets import SheetRefused, weight_at


class Method(StrEnum):
    """Where the sheets hang."""

    SUN = "sun"
    SMOKE = "smoke"
    SOLAR = "solar"
    HOT_AIR = "hot-air"


@dataclass(frozen=True)
class DryingTime:
    """Days from rolling until dry: shortest, usual, longest."""

    low_days: float
    usual_days: float
    high_days: float
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Ready:
    """The day a batch is dry: soonest, usual, latest."""

    soonest: date
    usual: date
    latest: date


@dataclass(frozen=True)
class Moisture:
    """Moisture left, % w.b.: lowest, usual, highest."""

    low: float
    usual: float
    high: float


@dataclass(frozen=True)
class EarlySale:
    """What sheets weigh once the water above the allowed moisture is taken off, kg, and what is taken off."""

    rebased_kg: float
    deducted_kg: float
    deducted_percent: float


def drying_time(method: Method, rain_days: int = 0) -> DryingTime:
    """Published days until dry, longer by the wet days among them where the sky matters.

    Raises ValueError for a negative number of rain days.
    """
    if rain_days < 0:
        raise ValueError("Rain days cannot be negative.")
    name = method.replace("-", "_")
    names = (f"{name}_days_low", f"{name}_days", f"{name}_days_high")
    lost = rain_days * _lost_by_rain(method)
    low, usual, high = (value(each) + lost for each in names)
    return DryingTime(low, usual, high, source(*names))


def ready(rolled: date, method: Method, rain_days: int = 0) -> Ready:
    """The days between which sheets rolled on `rolled` will be dry; part of a day counts as a day."""
    time = drying_time(method, rain_days)
    soonest, usual, latest = (
        rolled + timedelta(days=math.ceil(days)) for days in (time.low_days, time.usual_days, time.high_days)
    )
    return Ready(soonest, usual, latest)


def moisture_left(
    method: Method, days: float, rain_days: int = 0, start_percent: float = value("sheet_moisture")
) -> Moisture:
    """Moisture after so many days of which `rain_days` were wet, % w.b., from `start_percent` after milling.

    Raises SheetRefused for a start outside 0-100 % or negative days.
    """
    if not days >= 0 or not 0 < start_percent < 100:
        raise SheetRefused(f"Moisture cannot be told for {days:g} days from {start_percent:g} %.")
    time = drying_time(method)
    dried = max(0.0, days - rain_days * _lost_by_rain(method))
    low, usual, high = (
        _after(start_percent, dried, whole) for whole in (time.low_days, time.usual_days, time.high_days)
    )
    return Moisture(low, usual, high)


def sold_early(kg: float, moisture_percent: float, allowed_percent: float = value("sold_moisture")) -> EarlySale:
    """What a buyer who allows so much moisture takes off sheets of this moisture; nothing if they are dry enough.

    Raises SheetRefused for a weight that is not above 0 or a moisture outside 0-100 %.
    """
    if not 0 < kg < math.inf:
        raise SheetRefused(f"Sheets must weigh more than 0 kg, not {kg:g}.")
    rebased = min(kg, weight_at(kg, moisture_percent, allowed_percent))
    return EarlySale(rebased, kg - rebased, 100 * (1 - rebased / kg))


def _lost_by_rain(method: Method) -> float:
    """Days that one wet day costs; smoke and hot air do not mind."""
    return {Method.SUN: value("rain_day_sun"), Method.SOLAR: value("rain_day_solar")}.get(method, 0.0)


def _after(start_percent: float, days: float, whole_days: float) -> float:
    """Moisture, % w.b., where water per dry mass falls exponentially from the start to 0.5 % w.b. at `whole_days`."""
    start, end = (percent / (100 - percent) for percent in (start_percent, value("dry_moisture")))
    left = start * (end / start) ** (days / whole_days) if start > end else start
    return 100 * left / (1 + left)
