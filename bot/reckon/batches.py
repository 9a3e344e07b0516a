"""From what stands in an entry to the figures that are said: doses and expected dry weight for a farm's settings.

The arithmetic is `bot.rubber`'s; here it meets the farm's settings and entries.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from bot.books.model import Entry, Farm, FarmSettings
from bot.rubber import latex
from bot.rubber.coagulation import Dose, DoseRefused, Setting, dose
from bot.rubber.reference import REFERENCE_VERSION
from parsers.reading import Record, What


@dataclass(frozen=True)
class Drc:
    """A DRC in percent with the range that holds it four times out of five, and where it comes from.

    `basis` is `text` (given with the litres), `block` (learned from the block's own readings and weighed sheets), `others`
    (learned from those of the farm's other blocks) or `farm` (the farm's setting).
    """

    percent: float
    low: float
    high: float
    basis: str
    observations: int = 0


@dataclass(frozen=True)
class Batch:
    """Some latex of one text: litres, its DRC, what it should give dry, and where the DRC comes from."""

    litres: float
    drc: Drc
    dry_kg: float
    dry_low_kg: float
    dry_high_kg: float


def batch(record: Record, drc: Drc) -> Batch:
    """What one latex record holds. The latex may have been measured in litres or weighed in kg."""
    percent = drc.percent
    litres = float(record.litres) if record.litres is not None else latex.litres_from_kg(float(record.kg or 0), percent)
    return Batch(
        litres,
        drc,
        latex.dry_kg_from_litres(litres, percent),
        latex.dry_kg_from_litres(litres, drc.low),
        latex.dry_kg_from_litres(litres, drc.high),
    )


def of_entry(entry: Entry) -> Batch | None:
    """The batch as it was reckoned when the entry was made; None for an entry without latex, or with none of it (0 litres)."""
    return None if entry.computed is None or not is_latex(entry.record) else of_kept(entry.computed)


def of_kept(kept: Mapping[str, Any]) -> Batch | None:
    """The same from what is stored with an entry of latex."""
    if not kept["litres"]:
        return None
    litres, dry = kept["litres"], kept["dry_kg"]
    low, high = (latex.drc_from_grams_per_litre(1000 * kept[name] / litres) for name in ("dry_low_kg", "dry_high_kg"))
    drc = Drc(kept["drc_percent"], low, high, kept["drc_basis"], kept["drc_observations"])
    return Batch(litres, drc, dry, kept["dry_low_kg"], kept["dry_high_kg"])


def dose_for(batches: Sequence[Batch], settings: FarmSettings) -> Dose:
    """Water and acid for latex that is set together, at the farm's settings.

    The DRC of the whole is the mean weighted by mass. Raises DoseRefused with its reason.
    """
    litres = sum(each.litres for each in batches)
    dry_kg = sum(each.dry_kg for each in batches)
    if not litres:
        raise DoseRefused("litres", "There is no latex to be set: 0 litres.", litres=litres)
    if not dry_kg:
        raise DoseRefused("drc-low", "There is no rubber in latex of 0 %: measure its DRC again.", drc=0.0)
    kg = sum(latex.kg_from_litres(each.litres, each.drc.percent) for each in batches)
    percent = 100 * dry_kg / kg
    low = percent * sum(each.dry_low_kg for each in batches) / dry_kg
    high = percent * sum(each.dry_high_kg for each in batches) / dry_kg
    return dose(
        litres,
        percent,
        drc_low=low,
        drc_high=high,
        acid=settings.acid,
        strength_percent=float(settings.acid_strength_percent),
        ready=Setting(settings.ready),
        target_drc_percent=float(settings.target_drc_percent),
        sheet_dry_kg=settings.sheet_dry_g / 1000,
        pan_litres=None if settings.pan_litres is None else float(settings.pan_litres),
        solution_percent=float(settings.solution_percent),
    )


def dose_kept(latex_entries: Sequence[Entry], settings: FarmSettings) -> Dose | None:
    """The dose that was said for latex entered together, at the settings of that time; None where none could be given."""
    found = [batch for batch in map(of_entry, latex_entries) if batch is not None]
    if not found:
        return None
    then = next(entry.computed for entry in latex_entries if entry.computed is not None)
    settings_then: dict[str, Any] = {name: then[name] for name in _KEPT_AS_THEY_ARE if name in then}
    settings_then |= {name: Decimal(then[name]) for name in _KEPT_NUMBERS if name in then}
    try:
        return dose_for(found, replace(settings, **settings_then))
    except DoseRefused:
        return None


_KEPT_NUMBERS = ("acid_strength_percent", "target_drc_percent", "solution_percent")
_KEPT_AS_THEY_ARE = ("acid", "ready", "sheet_dry_g")


def kept(one: Batch, farm: Farm) -> Mapping[str, Any]:
    """What is stored with an entry so that its figures can be explained later, whatever the settings are then."""
    return {
        "litres": round(one.litres, 3),
        "drc_percent": round(one.drc.percent, 3),
        "drc_basis": one.drc.basis,
        "drc_observations": one.drc.observations,
        "density": round(latex.density_kg_per_litre(one.drc.percent), 5),
        "dry_kg": round(one.dry_kg, 4),
        "dry_low_kg": round(one.dry_low_kg, 4),
        "dry_high_kg": round(one.dry_high_kg, 4),
        "acid": farm.settings.acid,
        "acid_strength_percent": str(farm.settings.acid_strength_percent),
        "target_drc_percent": str(farm.settings.target_drc_percent),
        "ready": farm.settings.ready,
        "solution_percent": str(farm.settings.solution_percent),
        "sheet_dry_g": farm.settings.sheet_dry_g,
        "reference": REFERENCE_VERSION,
    }


def is_latex(record: Record) -> bool:
    """Latex with a quantity: what a dose can be worked out for."""
    return record.what is What.LATEX and (record.litres is not None or record.kg is not None)
