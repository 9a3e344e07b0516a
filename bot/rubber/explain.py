"""Why a figure is what it is: inputs, rule and sources, for the talk and the pages to say in their own words.

`rule` is a key and `formula` its form in symbols; `inputs` carry the symbols' values. Nothing is rounded.
"""

from dataclasses import dataclass

from bot.rubber import latex
from bot.rubber.acids import pure_g_per_ml
from bot.rubber.coagulation import Dose
from bot.rubber.estimate import Expected
from bot.rubber.hydrometer import HydrometerDrc
from bot.rubber.reference import PRACTICE, REFERENCE, REFERENCE_VERSION, Status, citation, source


@dataclass(frozen=True)
class Input:
    """One figure that goes into another: its symbol in the formula, value, unit; its source if it is a constant."""

    symbol: str
    value: float
    unit: str
    source: str = ""
    status: Status | None = None


@dataclass(frozen=True)
class Explanation:
    """How a figure was worked out. `citations` are the sources in full."""

    rule: str
    formula: str
    value: float
    unit: str
    inputs: tuple[Input, ...]
    sources: tuple[str, ...]
    citations: tuple[str, ...]
    reference_version: str = REFERENCE_VERSION


def dry_weight(dose: Dose) -> Explanation:
    """Why so much dry rubber: litres x density x DRC."""
    inputs = (
        Input("litres", dose.litres, "L"),
        Input("density", latex.density_kg_per_litre(dose.drc_percent), "kg/L", "Smith 1940", "derived"),
        Input("drc", dose.drc_percent, "%"),
    )
    return _explanation(
        "dry-weight", "litres x density x drc / 100", dose.dry_kg, "kg", inputs, source("serum_density")
    )


def water(dose: Dose) -> Explanation:
    """Why so much water: latex x (DRC / target - 1), all the water counted."""
    inputs = (
        Input("latex", dose.latex_kg, "kg"),
        Input("drc", dose.drc_percent, "%"),
        Input("target", dose.target_drc_percent, "%"),
        _constant("density", "water_density"),
        Input("thinning", dose.thinning_water_litres, "L"),
    )
    formula = "latex x (drc / target - 1) / density, of it thinning with the acid"
    return _explanation("water", formula, dose.water_litres, "L", inputs, source("target_drc", "water_density"))


def acid(dose: Dose) -> Explanation:
    """Why so much acid: dry rubber x grams a kilo / grams in a millilitre of the bottle, ammonia's share on top."""
    name = f"{dose.acid}_per_kg"
    constant = REFERENCE[name]
    extra = dose.pure_acid_g - dose.dry_kg * dose.acid_g_per_kg
    per_ml = pure_g_per_ml(dose.acid, dose.strength_percent)
    inputs = (
        Input("dry", dose.dry_kg, "kg"),
        Input("rate", dose.acid_g_per_kg, "g/kg", constant.source, constant.status),
        Input("for_ammonia", max(0.0, extra), "g"),
        Input("pure", per_ml, "g/ml", "density tables of the acid", "published"),
    )
    return _explanation("acid", "(dry x rate + for_ammonia) / pure", dose.acid_ml, "ml", inputs, dose.sources)


def estimate(expected: Expected) -> Explanation:
    """Why this DRC: what the block's own figures made of the usual one, and how wide the range is."""
    inputs = (
        _constant("usual", "drc_usual"),
        Input("observations", expected.observations, ""),
        Input("low", expected.drc_low, "%"),
        Input("high", expected.drc_high, "%"),
    )
    sources = source("drc_usual", "drc_spread")
    return _explanation("estimate", "usual corrected by observations", expected.drc_percent, "%", inputs, sources)


def hydrometer(found: HydrometerDrc, reading: float, water_parts: float) -> Explanation:
    """Why this DRC from a hydrometer: diluted back, put to 29 C, and the scale's bias taken off."""
    inputs = (
        Input("reading", reading, "g/L"),
        Input("parts", 1 + water_parts, ""),
        Input("as_read", found.as_read_percent, "%"),
        _constant("temperature", "hydrometer_temperature"),
        _constant("bias", "hydrometer_bias"),
    )
    return _explanation("hydrometer", "reading x parts, corrected", found.percent, "%", inputs, found.sources)


def _constant(symbol: str, name: str) -> Input:
    constant = REFERENCE[name]
    return Input(symbol, constant.value, constant.unit, constant.source, constant.status)


def _explanation(
    rule: str, formula: str, value: float, unit: str, inputs: tuple[Input, ...], sources: tuple[str, ...]
) -> Explanation:
    return Explanation(rule, formula, value, unit, inputs, sources, tuple(citation(each) for each in sources))


def weakest_status(explanation: Explanation) -> Status:
    """The least certain status among the inputs that are constants; "published" if there are none."""
    order: tuple[Status, ...] = ("published", "derived", PRACTICE, "from memory")
    known = [each.status for each in explanation.inputs if each.status is not None]
    return max(known, key=order.index, default="published")
