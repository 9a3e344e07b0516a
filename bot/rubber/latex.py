"""Latex: its density, and the dry rubber that litres or kilos of it hold.

DRC is dry rubber content, % by mass. Density follows the two-phase rule (the volumes of rubber and serum add up), with
the densities of Smith 1940 at 29 C. A hydrometer value in g/L holds the density already: see `hydrometer`.
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


def _share(percent: float) -> float:
    if not 0 <= percent <= 100:
        raise LatexRefused(f"A content is between 0 and 100 %, not {percent:g}.")
    return percent / 100


def _amount(amount: float, unit: str) -> float:
    if not 0 <= amount < float("inf"):
        raise LatexRefused(f"{amount:g} {unit} of latex cannot be.")
    return amount
