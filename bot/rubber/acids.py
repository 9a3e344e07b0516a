"""The acids that set latex: which may be used, how strong a bottle is, and how it is thinned.

The strength on a bottle is taken as % m/m. "Pure" is the acid itself, without its water. Every sum goes through grams
of pure acid, because "%" is m/m on one label, volume by volume in one recipe and g per 100 ml in the next.
"""

from dataclasses import dataclass
from enum import StrEnum

from bot.rubber.reference import TABLES, read_off, value


class Acid(StrEnum):
    """The acids that a dose is given for."""

    FORMIC = "formic"
    ACETIC = "acetic"


class DoseRefused(ValueError):
    """No dose is given. `str()` is the reason in English, `key` and `values` are for other languages."""

    def __init__(self, key: str, message: str, **values: float | str) -> None:
        super().__init__(message)
        self.key = key
        self.values = values


_NOT_TO_BE_USED = {
    "sulphuric": "Sulphuric acid burns and spoils the rubber (Morgan 1922, p. 280). No dose is given: use formic acid.",
    "hydrochloric": "Hydrochloric acid: a little too much and nothing sets (Morgan 1922, p. 282). Use formic acid.",
    "alum": "Alum harms the rubber even at the smallest dose (Morgan 1922, p. 282). Use formic acid.",
}
_OTHER_SPELLINGS = {"sulfuric": "sulphuric", "battery": "sulphuric", "muriatic": "hydrochloric"}


def acid_named(name: str) -> Acid:
    """The acid of this name ("formic", "Acetic acid").

    Raises DoseRefused for sulphuric and hydrochloric acid and alum, with the reason, and for a name that is not known.
    """
    word = name.casefold().removesuffix("acid").strip()
    word = _OTHER_SPELLINGS.get(word, word)
    if word in _NOT_TO_BE_USED:
        raise DoseRefused(f"acid-{word}", _NOT_TO_BE_USED[word])
    if word not in set(Acid):
        raise DoseRefused("acid-unknown", f"No dose is known for {name}. Use formic or acetic acid.", acid=name)
    return Acid(word)


def density_of_acid(acid: Acid, strength_percent: float) -> float:
    """Density of the acid in the bottle, kg/L at 20 C, between the published rows (1-100 % m/m).

    Raises DoseRefused outside 1-100 %. For acetic acid between 70 and 100 % the straight line lies up to 1 % low.
    """
    if not 1 <= strength_percent <= 100:
        raise DoseRefused(
            "strength",
            f"The bottle's strength must be between 1 and 100 %, not {strength_percent:g}. Read the label.",
            strength=strength_percent,
        )
    return read_off(TABLES[f"{acid}_density"], strength_percent)


def pure_g_per_ml(acid: Acid, strength_percent: float) -> float:
    """Grams of pure acid in one millilitre of the bottle (85 % formic acid: 1.016)."""
    return density_of_acid(acid, strength_percent) * strength_percent / 100


def molar_mass(acid: Acid) -> float:
    """Molar mass, g/mol."""
    return value(f"{acid}_molar_mass")


def acid_g_for_ammonia(acid: Acid, ammonia_g: float) -> float:
    """Grams of pure acid that the ammonia takes up before any latex sets: one mole for one mole."""
    return ammonia_g * molar_mass(acid) / value("ammonia_molar_mass")


@dataclass(frozen=True)
class Mixture:
    """A working solution: what goes into it and how strong it is, % w/v (g pure acid per 100 ml)."""

    acid_ml: float
    water_ml: float
    percent_wv: float


def working_solution(acid: Acid, strength_percent: float, pure_g: float, percent_wv: float) -> Mixture:
    """The solution of `percent_wv` that holds `pure_g` grams of acid; the acid goes into the water.

    Volumes are taken to add up. A bottle that is weaker than the solution wanted is used as it is.
    """
    acid_ml = pure_g / pure_g_per_ml(acid, strength_percent)
    total_ml = max(acid_ml, 100 * pure_g / percent_wv)
    return Mixture(acid_ml, total_ml - acid_ml, 100 * pure_g / total_ml if total_ml else percent_wv)


def percent_wv_of_mixture(acid: Acid, strength_percent: float, acid_ml: float, water_ml: float) -> float:
    """How strong a mixture really is, g pure acid per 100 ml (30 ml of 90 % formic in 900 ml water: 3.5)."""
    return 100 * acid_ml * pure_g_per_ml(acid, strength_percent) / (acid_ml + water_ml)


def thinned_by_volume(total_litres: float, from_percent: float, to_percent: float) -> tuple[float, float]:
    """Litres of acid and of water by the volume rule V1 = V2 x C2 / C1, as recipes print it.

    The rule treats % as volume by volume of the bottle: 94 % to "4 %" really gives 4.85 g per 100 ml. It is here to
    check recipes; doses go through grams. Raises ValueError if the result would be stronger than the bottle.
    """
    if not 0 < to_percent <= from_percent:
        raise ValueError(f"{from_percent:g} % cannot be thinned to {to_percent:g} %.")
    acid = total_litres * to_percent / from_percent
    return acid, total_litres - acid
