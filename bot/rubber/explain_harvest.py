"""Why a figure of tapping, selling or pay is what it is, as `explain` says it for latex."""

import hashlib
from collections.abc import Iterable
from decimal import Decimal

from bot.rubber import harvest_reference, selling_reference
from bot.rubber.explain import Explanation, Input
from bot.rubber.harvest_reference import HARVEST
from bot.rubber.intensity import Intensity
from bot.rubber.panel import BarkLeft, BarkUse
from bot.rubber.pay import Shares
from bot.rubber.projection import Projection
from bot.rubber.reconciling import Reconciliation
from bot.rubber.selling import Sale
from bot.rubber.selling_reference import SELLING
from bot.rubber.yields import RainLoss


def _version() -> str:
    figures = [(each.name, each.value) for each in (*HARVEST.values(), *SELLING.values())]
    return hashlib.sha256(repr(sorted(figures)).encode()).hexdigest()[:10]


HARVEST_VERSION: str = _version()
"""Changes by itself whenever a constant of tapping or selling changes."""


def intensity(found: Intensity) -> Explanation:
    """Why this relative intensity: cuts x share of the girth x tappings a day x 400."""
    base = HARVEST["intensity_base"]
    inputs = (
        Input("cuts", found.cuts_counted, ""),
        Input("share", float(found.share_of_girth), "of the girth"),
        Input("visits", float(found.visits_a_day), "a working day"),
        Input("base", base.value, base.unit, base.source, base.status),
    )
    return _explanation("intensity", "cuts x share x visits x base", found.nominal_percent, "%", inputs, found.sources)


def tappings_left(found: BarkLeft) -> Explanation:
    """Why so many tappings are left on a panel: bark left / bark a tapping, whole ones only."""
    inputs = (Input("left", found.left_cm, "cm"), Input("each", found.mm_a_tapping, "mm a tapping, vertical"))
    return _explanation("panel-end", "10 x left / each", found.tappings_left, "tappings", inputs, ())


def bark_use(found: BarkUse, source: str) -> Explanation:
    """Why the year's bark use keeps to its limit or not; `source` is that of the limit (a profile's, or the farm)."""
    inputs = (
        Input("used", found.used_cm, "cm"),
        Input("needed", found.needed_cm, "cm"),
        Input("limit", found.limit_cm, "cm a year", source),
    )
    return _explanation("bark-use", "used + needed against limit", found.total_cm, "cm", inputs, (source,))


def rain(found: RainLoss) -> Explanation:
    """Why rain cost so much: tappings lost x kg a tapping."""
    inputs = (Input("tappings", found.tappings, ""), Input("each", found.kg_a_tapping, "kg a tapping"))
    return _explanation("rain-loss", "tappings x each", found.lost_kg, "kg", inputs, ())


def projection(found: Projection) -> Explanation:
    """Why this crop is expected of the year: crop so far / share of the season that is over."""
    spread = HARVEST["projection_spread"]
    inputs = (
        Input("so_far", found.so_far_kg, "kg"),
        Input("share", found.share_percent, "% of the year's crop"),
        Input("spread", found.spread_percent, spread.unit, spread.source, spread.status),
    )
    formula = "100 x so_far / share; the rest may differ by spread"
    return _explanation("projection", formula, found.middle_kg, "kg", inputs, found.sources)


def sale(found: Sale) -> Explanation:
    """Why a sale comes to so much: kg paid for x price - deductions."""
    inputs = (
        Input("brought", float(found.brought_kg), "kg"),
        Input("paid", float(found.paid_kg), "kg"),
        Input("price", float(found.price), "a kg"),
        Input("deductions", float(found.before - found.amount), ""),
    )
    return _explanation("sale", "paid x price - deductions", float(found.amount), "", inputs, found.sources)


def shares(found: Shares) -> Explanation:
    """Why a tapper's share comes to so much: (sale - costs before) x share - his own costs."""
    inputs = (
        Input("sale", float(found.sales), ""),
        Input("costs", float(found.costs_before), ""),
        Input("share", float(found.share), ""),
        Input("own", float(found.tapper_costs), ""),
    )
    return _explanation("share", "(sale - costs) x share - own", float(found.tapper), "", inputs, ())


def reconciled(found: Reconciliation[str], name: str, estimated_kg: Decimal) -> Explanation:
    """Why somebody is credited with so many kilos: his estimate x weighed / estimated."""
    inputs = (
        Input("estimate", float(estimated_kg), "kg"),
        Input("weighed", float(found.weighed_kg), "kg"),
        Input("estimated", float(found.estimated_kg), "kg"),
    )
    value = float(found.adjusted_kg[name])
    return _explanation("reconciled", "estimate x weighed / estimated", value, "kg", inputs, ("Smith 1947",))


def _explanation(
    rule: str, formula: str, value: float, unit: str, inputs: tuple[Input, ...], sources: Iterable[str]
) -> Explanation:
    named = tuple(sources)
    return Explanation(rule, formula, value, unit, inputs, named, tuple(map(citation, named)), HARVEST_VERSION)


def citation(short: str) -> str:
    """The full citation of a source of tapping or selling; what follows the name in brackets is kept."""
    name, bracket, rest = short.partition(" (")
    return selling_reference.citation(harvest_reference.citation(name)) + bracket + rest
