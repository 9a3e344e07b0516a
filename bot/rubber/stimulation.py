"""Stimulation with ethephon: when, how strong, and when not.

Numbers of rounds differ by clone, frequency and country and stand in the notation or in the profile. Stimulant is acid
and harms eyes and skin: whoever answers with a date or a strength says `CAUTION` with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import Literal

from dateutil.relativedelta import relativedelta

from bot.rubber.harvest_reference import source, value
from bot.rubber.safety import CAUTIONS, Caution
from bot.rubber.tapping_system import Rounds

CAUTION: Caution = CAUTIONS["stimulant"]

Obstacle = Literal["wintering", "dry trees", "wounds", "thin renewed bark", "wet panel", "too soon"]


class StimulationError(ValueError):
    """A mixture or a plan that cannot be."""


@dataclass(frozen=True)
class Mixture:
    """Stock and carrier (such as palm or coconut oil) for a mixture, in grams, and parts of carrier to one of stock."""

    stock_g: float
    carrier_g: float
    carrier_parts: Fraction
    percent: Fraction
    sources: tuple[str, ...]


def mixture(stock_percent: Fraction | int, percent: Fraction | int, total_g: float) -> Mixture:
    """Thins a stock to a weaker mixture by mass: 10 % to 2.5 % takes one part and three parts of carrier.

    Raises StimulationError if the stock is not stronger than the mixture, or a figure is not above 0.
    """
    if not 0 < percent <= stock_percent <= 100:
        raise StimulationError("the mixture has to be weaker than the stock, and both above 0 and at most 100 %")
    if not total_g > 0:
        raise StimulationError("the grams of mixture have to be above 0")
    share = Fraction(percent) / Fraction(stock_percent)
    sources = ("Rubber Board 123",)
    return Mixture(float(total_g * share), float(total_g * (1 - share)), 1 / share - 1, Fraction(percent), sources)


def mixture_for_trees(trees: int, grams_a_tree: float) -> float:
    """Grams of mixture for so many trees.

    Raises StimulationError for values of 0 or less.
    """
    if trees <= 0 or not grams_a_tree > 0:
        raise StimulationError("the trees and the grams a tree have to be above 0")
    return trees * grams_a_tree


def round_days(rounds: Rounds, first: date, last: date) -> tuple[date, ...]:
    """The days of stimulation of one tapping year, from its first to its last day; at most as many as the rounds say.

    With an interval (monthly, every two weeks) they follow it from the first day; otherwise they are spread evenly.
    Raises StimulationError if the last day lies before the first.
    """
    if last < first:
        raise StimulationError("the tapping year cannot end before it begins")
    if rounds.every and rounds.unit:
        every = relativedelta(months=rounds.every) if rounds.unit == "m" else relativedelta(weeks=rounds.every)
        days = [first + number * every for number in range(rounds.per_year)]
    else:
        step = (last - first) / rounds.per_year
        days = [first + timedelta(days=(number * step).days) for number in range(rounds.per_year)]
    return tuple(day for day in days if day <= last)


def before_tappings(days: Sequence[date], every: int | None = None, hours: float | None = None) -> tuple[date, ...]:
    """The days of stimulation by so many hours before every so-manyth tapping of `days`.

    The defaults are those for weekly tapping in India: 72 hours before every fifth.
    Raises StimulationError for a number below 1 or hours below 0.
    """
    every = int(value("weekly_stimulation_every")) if every is None else every
    hours = value("weekly_stimulation_before") if hours is None else hours
    if every < 1 or not hours >= 0:
        raise StimulationError("the tappings between stimulations have to be 1 or more, the hours 0 or more")
    return tuple(day - timedelta(days=round(hours / 24)) for day in days[every - 1 :: every])


def next_round(last_stimulated: date | None, plan: Sequence[date], today: date) -> date | None:
    """The next stimulation of a plan: the first that is not before today and comes after the last one given."""
    return next((day for day in plan if day >= today and (last_stimulated is None or day > last_stimulated)), None)


@dataclass(frozen=True)
class Advice:
    """Whether trees may be stimulated now: the obstacles found, none if it may be done. `CAUTION` goes with it."""

    obstacles: tuple[Obstacle, ...]
    sources: tuple[str, ...]

    @property
    def allowed(self) -> bool:
        """True if no obstacle was found."""
        return not self.obstacles


def advice(
    *,
    wintering: bool = False,
    dry_trees: bool = False,
    wounds: bool = False,
    thin_renewed_bark: bool = False,
    wet_panel: bool = False,
    days_since_last: int | None = None,
    shortest_days: int = 0,
) -> Advice:
    """What speaks against stimulating: only healthy, unwounded trees without dryness, not in wintering, not on thin
    bark. `shortest_days` is the farm's least interval between two. A wet panel is common practice, no source.
    """
    found: dict[Obstacle, bool] = {
        "wintering": wintering,
        "dry trees": dry_trees,
        "wounds": wounds,
        "thin renewed bark": thin_renewed_bark,
        "wet panel": wet_panel,
        "too soon": days_since_last is not None and days_since_last < shortest_days,
    }
    return Advice(tuple(name for name, there in found.items() if there), ("Philippine manual",))


def usual_strength() -> tuple[float, float, tuple[str, ...]]:
    """The strengths in use (% active ingredient): 2.5 on the panel, 5 over the lace, and their sources."""
    return value("stimulant_low"), value("stimulant_high"), source("stimulant_low", "stimulant_high")
