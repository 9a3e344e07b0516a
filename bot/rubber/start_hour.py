"""What a late start costs. Regions differ sharply, so a range is given unless the region is the one of the table."""

from dataclasses import dataclass
from datetime import time
from typing import Literal

from bot.rubber.harvest_reference import START_HOURS, HourBand, source, value


@dataclass(frozen=True)
class StartHour:
    """Crop lost by the hour at which tapping starts, in % of a tapping in the usual hours (20 h to 06 h).

    `between` is True for the hours that the table leaves open, where the losses of both sides are the range.
    """

    loss_low_percent: float
    loss_high_percent: float
    between: bool
    sources: tuple[str, ...]


def start_hour(at: time, region: Literal["Thailand"] | None = None) -> StartHour:
    """The loss from starting at a local time.

    Hours as a Thai table gives them: 06-08 h 3 %, 09-11 h 20 %, 12-14 h 31 %, 15-17 h 23 %, 18-20 h 6 %. Elsewhere the
    range is that of the hours within two of it; a Malaysian report (04 h gave 23 % more than 06 h) lies in it.
    """
    hour = at.hour + at.minute / 60 + at.second / 3600
    bands = _bands(hour, hour)
    if region:
        losses = [band.loss_percent for band in bands[-1:] or _neighbours(hour)]
        return StartHour(min(losses), max(losses), not bands, (START_HOURS[0].source,))
    shift = value("start_hour_shift")
    losses = [band.loss_percent for band in _bands(hour - shift, hour + shift)]
    return StartHour(min(losses), max(losses), not bands, (START_HOURS[0].source, *source("start_hour_shift")))


def _bands(first: float, last: float) -> list[HourBand]:
    """The bands that share an hour with the span. Where two meet (06 h, 20 h), the later one stands last."""
    return [band for band in START_HOURS if band.start <= last and band.end >= first]


def _neighbours(hour: float) -> list[HourBand]:
    """The bands on both sides of an hour that lies in none."""
    return [
        max((band for band in START_HOURS if band.end < hour), key=lambda band: band.end),
        min((band for band in START_HOURS if band.start > hour), key=lambda band: band.start),
    ]


def after_start_loss(expected_kg: float, effect: StartHour) -> tuple[float, float]:
    """The crop (kg) to expect with the loss of the starting hour, lowest and highest.

    Raises ValueError for a crop below 0.
    """
    if expected_kg < 0:
        raise ValueError("the expected crop cannot be below 0 kg")
    return expected_kg * (1 - effect.loss_high_percent / 100), expected_kg * (1 - effect.loss_low_percent / 100)
