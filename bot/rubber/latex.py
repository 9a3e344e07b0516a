"""Latex: its density, and the dry rubber that litres or kilos of it hold.

DRC is dry rubber content, % by mass. Density follows the two-phase rule (the volumes of rubber and serum add up), with
the densities of Smith 1940 at 29 C. A hydrometer value in g/L holds the density already: see `hydrometer`.
Ammonia at the level of a preservative does not change the density of the rubber (Smith 1940); what it does to the acid
is in `acids`.
"""

from bot.rubber.reference import value


class LatexRefused(ValueError):
    """A figure that no latex can have; the message says which and what to do."""


def density_kg_per_litre(drc_percent: float) -> float:
    """Density of latex at 29 C, kg/L, for a DRC of 0 to 100 % m/m (Smith 1940).

    Raises LatexRefused outside 0-100 %.
    """
    share = _share(drc_percent)
    return 1 / (share / value("rubber_density") + (1 - share) / value("serum_density"))


def drc_from_density(kg_per_litre: float) -> float:
    """The DRC, % m/m, of latex of this density: the two-phase rule turned round (Smith 1940).

    Raises LatexRefused for a density that lies outside that of pure serum and pure rubber.
    """
    rubber, serum = value("rubber_density"), value("serum_density")
    if not rubber <= kg_per_litre <= serum:
        raise LatexRefused(f"Latex weighs between {rubber} and {serum} kg a litre, not {kg_per_litre:g}.")
    return 100 * (1 / kg_per_litre - 1 / serum) / (1 / rubber - 1 / serum)


def dry_kg_from_litres(litres: float, drc_percent: float) -> float:
    """Dry rubber, kg, in so many litres: litres x density x DRC."""
    return dry_kg_from_kg(kg_from_litres(litres, drc_percent), drc_percent)


def dry_kg_from_kg(latex_kg: float, drc_percent: float) -> float:
    """Dry rubber, kg, in so many kilos of latex; no density is needed."""
    return _amount(latex_kg, "kg") * _share(drc_percent)


def kg_from_litres(litres: float, drc_percent: float) -> float:
    """Mass of latex, kg."""
    return _amount(litres, "litres") * density_kg_per_litre(drc_percent)


def litres_from_kg(latex_kg: float, drc_percent: float) -> float:
    """Volume of latex, litres."""
    return _amount(latex_kg, "kg") / density_kg_per_litre(drc_percent)


def grams_per_litre(drc_percent: float) -> float:
    """Dry rubber in one litre of latex, g/L: what a hydrometer scale is marked in."""
    return 1000 * dry_kg_from_litres(1, drc_percent)


def drc_from_grams_per_litre(grams: float) -> float:
    """The DRC, % m/m, of latex with so many grams of dry rubber a litre: `grams_per_litre` turned round.

    Raises LatexRefused for what no latex can hold (below 0 or above 910 g/L).
    """
    rubber, serum = 1000 * value("rubber_density"), 1000 * value("serum_density")
    if not 0 <= grams <= rubber:
        raise LatexRefused(f"Latex holds between 0 and {rubber:g} g of rubber a litre, not {grams:g}.")
    return 100 * (grams / serum) / (1 - grams / rubber + grams / serum)


def drc_of_mixture(litres: float, drc_percent: float, water_litres: float) -> float:
    """DRC, % m/m, after water got in: on purpose, or as rain in the cups. Raises LatexRefused for no latex at all."""
    kg = kg_from_litres(litres, drc_percent)
    if kg == 0:
        raise LatexRefused("Without latex there is no DRC.")
    return 100 * dry_kg_from_kg(kg, drc_percent) / (kg + _amount(water_litres, "litres") * value("water_density"))


def drc_by_drying(sample_g: float, dry_g: float) -> float:
    """DRC, % m/m, from a weighed sample: dry mass / sample mass (oven method, test sheet, alcohol method alike).

    The coagulum must be pressed to 2 mm or less, washed, and dried to constant mass (IS 3708: 70 C).
    Raises LatexRefused if the dry mass is above the sample's.
    """
    if not 0 <= dry_g <= sample_g or not sample_g > 0:
        raise LatexRefused(f"{dry_g:g} g dry cannot come from a sample of {sample_g:g} g.")
    return 100 * dry_g / sample_g


def drc_by_test_sheet(sample_ml: float, dry_g: float) -> float:
    """DRC, % m/m, from a test sheet of a sample that was measured, not weighed: 100 ml for every 20 litres (SNI)."""
    if not sample_ml > 0:
        raise LatexRefused("A test sheet needs a sample of more than 0 ml.")
    return drc_from_grams_per_litre(1000 * dry_g / sample_ml)


def drc_by_wet_sheet(sample_g: float, wet_g: float, moisture_percent: float) -> float:
    """DRC, % m/m, from a test sheet weighed wet, whose moisture (% w.b.) is known from earlier ones. A quick guess."""
    return drc_by_drying(sample_g, wet_g * (1 - _share(moisture_percent)))


def drc_from_total_solids(solids_percent: float) -> tuple[float, float, float]:
    """DRC, % m/m, from total solids: the middle, lowest and highest.

    Meters and quick drying give solids, 2.0 (ASTM D1076-02, concentrate) to 5.4 points (Hwee) above the DRC; the
    middle, 3 points for field latex, is from memory. The gap grows in latex that is kept with ammonia.
    """
    solids = 100 * _share(solids_percent)
    gaps = (value("solids_above_drc_field"), value("solids_above_drc_high"), value("solids_above_drc_low"))
    middle, low, high = (max(0.0, solids - gap) for gap in gaps)
    return middle, low, high


def _share(percent: float) -> float:
    if not 0 <= percent <= 100:
        raise LatexRefused(f"A content is between 0 and 100 %, not {percent:g}.")
    return percent / 100


def _amount(amount: float, unit: str) -> float:
    if not 0 <= amount < float("inf"):
        raise LatexRefused(f"{amount:g} {unit} of latex cannot be.")
    return amount
