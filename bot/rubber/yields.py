"""Yields: grams a tree, kg a tapper's day, kg a hectare; by block, tapper or month; rain lost; comparisons.

Weights are dry rubber in kg, as estimated or weighed; whoever pays by them uses `selling` and `pay`. An estimate by
hydrometer is off by about 3 % for each point that the latex differs from the average (Smith 1947).
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from bot.rubber.harvest_reference import source, value

By = Literal["block", "tapper", "month"]


class YieldError(ValueError):
    """Figures that no yield can be worked out from."""


@dataclass(frozen=True)
class Tapping:
    """One task tapped on one day: block, tapper, trees tapped, dry rubber in kg."""

    day: date
    block: str
    tapper: str
    trees: int
    dry_kg: float


@dataclass(frozen=True)
class Yield:
    """Several tappings: their number, days worked (by tapper), dry kg, grams a tree and tapping, kg a tapper's day.

    Grams are None where no trees were counted.
    """

    tappings: int
    tapper_days: int
    dry_kg: float
    grams_a_tree: float | None
    kg_a_tapper_day: float


def grams_a_tree(dry_kg: float, trees: int) -> float:
    """Grams of dry rubber a tree and tapping: 9 kg from 300 trees are 30 g.

    Raises YieldError if there are no trees or the weight is below 0.
    """
    return 1000 * _not_below_zero(dry_kg, "the dry rubber") / _above_zero(trees, "the trees")


def kg_a_hectare(dry_kg: float, area_ha: float) -> float:
    """Dry rubber a hectare.

    Raises YieldError for an area of 0 or less, or a weight below 0.
    """
    return _not_below_zero(dry_kg, "the dry rubber") / _above_zero(area_ha, "the area")


def kg_a_hectare_year(grams: float, trees_a_hectare: float, tappings_a_year: float) -> float:
    """Dry rubber a hectare and year from grams a tree and tapping.

    Raises YieldError for values below 0.
    """
    for figure in (grams, trees_a_hectare, tappings_a_year):
        _not_below_zero(figure, "grams, trees and tappings")
    return grams * trees_a_hectare * tappings_a_year / 1000


def kg_a_task(grams: float, trees: int) -> float:
    """Dry rubber of a task in a day, from grams a tree and tapping.

    Raises YieldError for values below 0.
    """
    return _not_below_zero(grams, "the grams") * _not_below_zero(trees, "the trees") / 1000


def summed(tappings: Iterable[Tapping]) -> Yield:
    """The yield of several tappings together.

    Raises YieldError if there is none.
    """
    each = tuple(tappings)
    if not each:
        raise YieldError("there is no tapping to add up")
    days = len({(tapping.day, tapping.tapper) for tapping in each})
    dry = sum(tapping.dry_kg for tapping in each)
    counted = [tapping for tapping in each if tapping.trees > 0]
    trees = sum(tapping.trees for tapping in counted)
    grams = grams_a_tree(sum(tapping.dry_kg for tapping in counted), trees) if counted else None
    return Yield(len(each), days, dry, grams, dry / days)


def summed_by(tappings: Iterable[Tapping], by: By) -> dict[str, Yield]:
    """The yields by block, by tapper or by month (2026-03), in order of their names."""
    groups: dict[str, list[Tapping]] = defaultdict(list)
    for tapping in tappings:
        groups[_group(tapping, by)].append(tapping)
    return {name: summed(groups[name]) for name in sorted(groups)}


def _group(tapping: Tapping, by: By) -> str:
    match by:
        case "block":
            return tapping.block
        case "tapper":
            return tapping.tapper
        case "month":
            return f"{tapping.day:%Y-%m}"


@dataclass(frozen=True)
class Change:
    """A figure against an earlier one, and the change in % of the earlier one (None if that was 0)."""

    now: float
    before: float
    percent: float | None


def change(now: float, before: float) -> Change:
    """The change from an earlier figure: 46,000 after 68,000 is -32.4 %.

    Raises YieldError for values below 0.
    """
    _not_below_zero(now, "the later figure")
    _not_below_zero(before, "the earlier figure")
    return Change(now, before, 100 * (now / before - 1) if before else None)


def against_last_year(tappings: Iterable[Tapping], today: date, first_month: int = 1) -> Change:
    """Dry rubber of this tapping year up to today, against last year up to the same day.

    The tapping year begins on the first of a month (January if not said).
    """
    start = date(today.year - (today.month < first_month), first_month, 1)
    then = _year_earlier(today)
    each = tuple(tappings)
    now = sum(tapping.dry_kg for tapping in each if start <= tapping.day <= today)
    before = sum(tapping.dry_kg for tapping in each if _year_earlier(start) <= tapping.day <= then)
    return change(now, before)


def _year_earlier(day: date) -> date:
    return day.replace(year=day.year - 1, day=28 if (day.month, day.day) == (2, 29) else day.day)


def in_range(figure: float, low: float, high: float) -> Literal["below", "within", "above"]:
    """Where a figure lies against a published range.

    Raises YieldError if the range is upside down.
    """
    if low > high:
        raise YieldError("the lower end of a range cannot lie above the upper")
    if figure < low:
        return "below"
    return "above" if figure > high else "within"


def usual_grams() -> tuple[float, float, tuple[str, ...]]:
    """Grams a tree and tapping, lowest and highest in a study of 200 tappings in Kerala, and the source."""
    return value("tree_grams_low"), value("tree_grams_high"), source("tree_grams_low", "tree_grams_high")


@dataclass(frozen=True)
class RainLoss:
    """Tappings lost to rain, the dry rubber that they would have given, and what it would have been worth."""

    tappings: int
    kg_a_tapping: float
    lost_kg: float
    lost_money: Decimal | None


def rain_loss(tappings_lost: int, kg_a_tapping: float, price: Decimal | None = None) -> RainLoss:
    """What tappings lost to rain cost: 70 tappings of 9 kg are 630 kg. Later tappings win a part of it back.

    Raises YieldError for values below 0.
    """
    lost = _not_below_zero(tappings_lost, "the tappings lost") * _not_below_zero(kg_a_tapping, "the kg a tapping")
    money = None if price is None else Decimal(str(lost)) * price
    return RainLoss(tappings_lost, kg_a_tapping, lost, money)


def _above_zero(figure: float, what: str) -> float:
    if not figure > 0:
        raise YieldError(f"{what} have to be above 0")
    return figure


def _not_below_zero(figure: float, what: str) -> float:
    if not figure >= 0:
        raise YieldError(f"{what} cannot be below 0")
    return figure
