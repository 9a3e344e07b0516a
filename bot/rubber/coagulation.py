"""Setting latex: the water and the acid for so many litres, the pans and sheets it makes, and how long it takes.

Water follows a mass balance to the target DRC. Acid goes by the kilo of dry rubber, in grams of pure acid; rules "per
litre" differ by two thirds between undiluted and diluted latex (Morgan 1922, pp. 77-79), so the basis is always said.
The mass of the acid itself (one part in a thousand of the mixture) is left out of the balance.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from bot.rubber import latex
from bot.rubber.acids import Acid, DoseRefused, acid_g_for_ammonia, acid_named, working_solution
from bot.rubber.reference import NORMAL_80, source, value

__all__ = [
    "Acid",
    "Dose",
    "DoseRefused",
    "Setting",
    "TimeWindow",
    "dose",
    "setting_time",
    "water_by_volume_rule",
    "water_to_target",
]


class Setting(StrEnum):
    """When the coagulum is to be rolled."""

    NEXT_DAY = "next-day"
    SAME_DAY = "same-day"
    QUICK = "quick"


@dataclass(frozen=True)
class Dose:
    """What to add to so much latex, and what to expect. Nothing is rounded.

    `water_litres` is all the water; of it `thinning_water_litres` goes to the acid and `water_first_litres` straight
    into the latex. `dry_kg_low` and `dry_kg_high` hold 80 % of the cases. `notes` are keys of things worth saying:
    "thin-latex" (weaker than the target, no water), "unusual-drc" (outside the published 20-45 %).
    """

    litres: float
    drc_percent: float
    target_drc_percent: float
    latex_kg: float
    dry_kg: float
    dry_kg_low: float
    dry_kg_high: float
    water_litres: float
    water_first_litres: float
    acid: Acid
    strength_percent: float
    acid_ml: float
    acid_solution_litres: float
    thinning_water_litres: float
    solution_percent: float
    pure_acid_g: float
    acid_g_per_kg: float
    ready: Setting
    sheets: int
    sheet_dry_kg: float
    pans: int
    mixture_litres: float
    notes: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class TimeWindow:
    """Hours from acid to rolling."""

    low_hours: float
    high_hours: float
    sources: tuple[str, ...]


def dose(
    litres: float,
    drc_percent: float = 33.0,
    *,
    drc_low: float | None = None,
    drc_high: float | None = None,
    acid: Acid | str = Acid.FORMIC,
    strength_percent: float = 85.0,
    ready: Setting | str = Setting.NEXT_DAY,
    target_drc_percent: float = 15.0,
    sheet_dry_kg: float = 0.5,
    pan_litres: float | None = None,
    solution_percent: float = 2.0,
    ammonia_g_per_litre: float = 0.0,
    acid_g_per_kg: float | None = None,
) -> Dose:
    """Water, acid and expected dry weight for `litres` of field latex of `drc_percent` (% m/m).

    Latex that was weighed: `dose(latex.litres_from_kg(kg, drc), drc)`. `drc_low` and `drc_high` are the 80 % range of
    the DRC (left out: 33 +/- 5 points, 30-40 % as published, the spread between farms). `acid_g_per_kg` replaces the
    usual grams of pure acid per kg of dry rubber for the setting. With `pan_litres` a pan makes a sheet; otherwise the
    sheet's dry weight sets their number.

    Raises DoseRefused, with the reason, for anything outside sane bounds and for acids that are not to be used.
    """
    acid, ready = acid_named(acid), _setting_named(ready)
    _check_latex(litres, drc_percent, ammonia_g_per_litre)
    low, high = _drc_range(drc_percent, drc_low, drc_high)
    _check_choices(target_drc_percent, sheet_dry_kg, pan_litres, solution_percent)
    latex_kg = latex.kg_from_litres(litres, drc_percent)
    dry_kg = latex.dry_kg_from_kg(latex_kg, drc_percent)
    per_kg = _acid_g_per_kg(acid, ready, acid_g_per_kg)
    pure_g = dry_kg * per_kg + acid_g_for_ammonia(acid, ammonia_g_per_litre * litres)
    solution = working_solution(acid, strength_percent, pure_g, solution_percent)
    thinning = solution.water_ml / 1000
    water_first = max(0.0, water_to_target(latex_kg, drc_percent, target_drc_percent) - thinning)
    solution_litres = (solution.acid_ml + solution.water_ml) / 1000
    mixture = litres + water_first + solution_litres
    pans, sheets = _pans_and_sheets(dry_kg, mixture, sheet_dry_kg, pan_litres)
    return Dose(
        litres=litres,
        drc_percent=drc_percent,
        target_drc_percent=target_drc_percent,
        latex_kg=latex_kg,
        dry_kg=dry_kg,
        dry_kg_low=latex.dry_kg_from_litres(litres, low),
        dry_kg_high=latex.dry_kg_from_litres(litres, high),
        water_litres=water_first + thinning,
        water_first_litres=water_first,
        acid=acid,
        strength_percent=strength_percent,
        acid_ml=solution.acid_ml,
        acid_solution_litres=solution_litres,
        thinning_water_litres=thinning,
        solution_percent=solution.percent_wv,
        pure_acid_g=pure_g,
        acid_g_per_kg=per_kg,
        ready=ready,
        sheets=sheets,
        sheet_dry_kg=dry_kg / sheets,
        pans=pans,
        mixture_litres=mixture,
        notes=_notes(drc_percent, target_drc_percent),
        sources=_sources(acid, ready, ammonia_g_per_litre),
    )


def water_to_target(latex_kg: float, drc_percent: float, target_drc_percent: float) -> float:
    """Litres of water that bring latex to the target DRC (mass balance); 0 if it is no stronger than that."""
    return max(0.0, latex_kg * (drc_percent / target_drc_percent - 1) / value("water_density"))


def water_by_volume_rule(litres: float, drc: float, target_drc: float) -> float:
    """Water by the printed rule V = (S - R) / R x A (Sei Silau thesis), in the unit of `litres`; 0 if S <= R.

    Exact where S and R are g/L; with % m/m it gives 1-2 % too much. It is the check on `water_to_target`.
    """
    return max(0.0, litres * (drc / target_drc - 1))


def setting_time(ready: Setting) -> TimeWindow:
    """Hours from the acid to rolling, as published for this way of setting."""
    name = ready.replace("-", "_")
    low, high = f"{name}_hours_low", f"{name}_hours_high"
    return TimeWindow(value(low), value(high), source(low, high))


def _acid_g_per_kg(acid: Acid, ready: Setting, own: float | None) -> float:
    low, high = value("acid_per_kg_low"), value("acid_per_kg_high")
    if own is not None and not low <= own <= high:
        raise DoseRefused(
            "acid-rate",
            f"Acid per kg of dry rubber must be {low:g} to {high:g} g, not {own:g}.",
            low=low,
            high=high,
            rate=own,
        )
    if own is not None:
        return own
    factor = {Setting.NEXT_DAY: 1.0, Setting.SAME_DAY: value("same_day_factor"), Setting.QUICK: value("quick_factor")}
    return value(f"{acid}_per_kg") * factor[ready]


def _setting_named(name: str) -> Setting:
    if name not in set(Setting):
        raise DoseRefused("ready", f"Rolling is next-day, same-day or quick, not {name}.", ready=name)
    return Setting(name)


def _drc_range(drc: float, low: float | None, high: float | None) -> tuple[float, float]:
    reach = NORMAL_80 * value("drc_spread")
    low = max(drc - reach, 0.0) if low is None else low
    high = min(drc + reach, 100.0) if high is None else high
    if not 0 <= low <= drc <= high <= 100:
        message = f"A DRC of {drc:g} % does not lie in its range, {low:g} to {high:g} %."
        raise DoseRefused("drc-range", message, drc=drc, low=low, high=high)
    return low, high


def _check_latex(litres: float, drc: float, ammonia: float) -> None:
    most = value("litres_accepted_high")
    if not 0 < litres <= most:
        raise DoseRefused(
            "litres", f"Litres must be more than 0 and at most {most:g}, not {litres:g}.", litres=litres, high=most
        )
    low, high = value("drc_accepted_low"), value("drc_accepted_high")
    if not drc >= low:
        message = f"Latex of {drc:g} % is too thin to make sheet. Let it set as lump, or measure it again."
        raise DoseRefused("drc-low", message, drc=drc, low=low)
    if drc > high:
        raise DoseRefused(
            "drc-high", f"Field latex does not reach {drc:g} % (at most {high:g}). Check it.", drc=drc, high=high
        )
    most = value("ammonia_accepted_high")
    if not 0 <= ammonia <= most:
        message = f"Ammonia must be 0 to {most:g} g per litre of latex, not {ammonia:g}."
        raise DoseRefused("ammonia", message, ammonia=ammonia, high=most)


def _check_choices(target: float, sheet_dry_kg: float, pan_litres: float | None, solution: float) -> None:
    _within("target", "The target DRC, %,", target, value("target_drc_low"), value("target_drc_high"))
    _within("sheet-weight", "The dry weight of a sheet, kg,", sheet_dry_kg, 0.1, 3.0)
    _within("solution", "The working solution, %,", solution, 0.4, value("working_solution_high"))
    if pan_litres is not None:
        _within("pan", "A pan, litres,", pan_litres, 1.0, value("litres_accepted_high"))


def _within(key: str, what: str, given: float, low: float, high: float) -> None:
    if not low <= given <= high:
        raise DoseRefused(key, f"{what} must be {low:g} to {high:g}, not {given:g}.", given=given, low=low, high=high)


def _pans_and_sheets(dry_kg: float, mixture: float, sheet_dry_kg: float, pan_litres: float | None) -> tuple[int, int]:
    if pan_litres is None:
        sheets = max(1, math.floor(dry_kg / sheet_dry_kg + 0.5))
        return sheets, sheets
    pans = math.ceil(mixture / pan_litres - 1e-9)
    return pans, pans


def _notes(drc: float, target: float) -> tuple[str, ...]:
    thin = ("thin-latex",) if drc <= target else ()
    usual = value("drc_usual_low") <= drc <= value("drc_usual_high")
    return thin if usual else (*thin, "unusual-drc")


def _sources(acid: Acid, ready: Setting, ammonia: float) -> tuple[str, ...]:
    factors = {Setting.SAME_DAY: ("same_day_factor",), Setting.QUICK: ("quick_factor",)}.get(ready, ())
    moles = ("ammonia_molar_mass",) if ammonia else ()
    density = {Acid.FORMIC: "Engineering ToolBox; chemister.ru", Acid.ACETIC: "Engineering ToolBox"}[acid]
    return (*source("serum_density", "target_drc", f"{acid}_per_kg", *factors, *moles, "working_solution"), density)
