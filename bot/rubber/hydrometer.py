"""DRC from a latex hydrometer: dilution, temperature, the scale's own bias, and how far off it may be.

The stem is marked in grams of dry rubber per litre of the mixture it floats in, at 29 C, for mixtures of water and
latex of 35 % DRC. Undiluted latex is too thick to read. Latex that differs from 35 % is misread by about 3 % of the
rubber weight for each point (Smith 1947); a calculation with two phases suggests nearer 5 %, so the range shown is
wide.
"""

import math
from dataclasses import dataclass

from bot.rubber.latex import LatexRefused, drc_from_grams_per_litre, grams_per_litre
from bot.rubber.reference import NORMAL_80, source, value

NORMAL_95 = 1.96


@dataclass(frozen=True)
class HydrometerDrc:
    """DRC, % m/m, as read and after correction; one standard deviation and the 80 % range of the corrected one."""

    as_read_percent: float
    percent: float
    spread_points: float
    low: float
    high: float
    sources: tuple[str, ...]


def grams_per_litre_undiluted(reading: float, water_parts: float = 2.0) -> float:
    """Dry rubber in a litre of the original latex, g, for 1 part of latex in so many parts of water, not corrected.

    Raises LatexRefused for a reading below 0 or less than half a part of water.
    """
    if not 0 <= reading < math.inf:
        raise LatexRefused(f"A hydrometer reads 0 g/L or more, not {reading:g}.")
    if not 0.5 <= water_parts <= 10:
        raise LatexRefused("Read the hydrometer in latex thinned with 1 to 3 parts of water, not in thick latex.")
    return reading * (1 + water_parts)


def drc_by_hydrometer(reading: float, water_parts: float = 2.0, celsius: float | None = None) -> HydrometerDrc:
    """DRC of the original latex from a reading in g/L, with the temperature of the mixture if it was taken.

    Warm latex is lighter and reads as richer: 1 DRC point for each C away from 29 at 1 : 2, in proportion to the
    dilution otherwise. Without a temperature the range is that of the uncorrected chart. Raises LatexRefused for
    readings that no latex gives.
    """
    as_read = drc_from_grams_per_litre(grams_per_litre_undiluted(reading, water_parts))
    per_degree = value("hydrometer_per_degree") * (1 + water_parts) / 3
    degrees = 0.0 if celsius is None else celsius - value("hydrometer_temperature")
    at_29 = as_read - per_degree * degrees
    if not 0 < at_29 < 70:
        raise LatexRefused(f"{reading:g} g/L would be latex of {at_29:.0f} %. Check the reading and the dilution.")
    percent = _without_bias(at_29)
    spread = _spread(percent, water_parts, celsius)
    reach = NORMAL_80 * spread
    return HydrometerDrc(as_read, percent, spread, max(0.0, percent - reach), percent + reach, _SOURCES)


_SOURCES = source("hydrometer_bias", "hydrometer_temperature")


def _without_bias(read_percent: float) -> float:
    """The DRC whose reading, off by 3 % of the weight for each point away from 35, would be this one."""
    read, bias, middle = grams_per_litre(read_percent), value("hydrometer_bias") / 100, value("hydrometer_latex_drc")
    low, high = 0.0, 70.0
    while high - low > 1e-9:
        drc = (low + high) / 2
        shown = grams_per_litre(drc) * max(0.0, 1 + bias * (drc - middle))
        low, high = (drc, high) if shown < read else (low, drc)
    return (low + high) / 2


def _spread(percent: float, water_parts: float, celsius: float | None) -> float:
    """One standard deviation, points: the chart's error, the temperature's share, and the doubt about the bias."""
    chart = "hydrometer_uncorrected" if celsius is None else "hydrometer_error"
    chart_points = percent * (value(f"{chart}_high") - value(f"{chart}_low")) / 100 / (2 * NORMAL_95)
    slope = value("hydrometer_per_degree_fluid_high") - value("hydrometer_per_degree_fluid_low")
    degrees = 0.0 if celsius is None else abs(celsius - value("hydrometer_temperature"))
    temperature = slope / (2 * NORMAL_95) * (1 + water_parts) * degrees
    # A reading moves about twice as fast as the DRC, so half of the doubt about the weight stays in the DRC.
    doubt = percent * value("hydrometer_bias_doubt") / 100 * abs(percent - value("hydrometer_latex_drc")) / 2
    return math.hypot(chart_points, temperature, doubt)
