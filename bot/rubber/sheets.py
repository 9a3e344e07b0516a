"""Sheets: their number and thickness, the passes through the rollers, and from wet to dry weight.

Moisture is on the wet basis (water / wet mass) unless a name says dry basis: 30 % w.b. is 42.9 % d.b., and papers mix
both.
"""

from dataclasses import dataclass

from bot.rubber.reference import source, value


class SheetRefused(ValueError):
    """A figure that no sheet can have; the message says which and what to do."""


@dataclass(frozen=True)
class DryWeight:
    """Dry weight to expect, kg, with the published range, and the moisture that it was worked out with."""

    kg: float
    low_kg: float
    high_kg: float
    moisture_percent: float
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Rolling:
    """How often to pass the coagulum through the rollers, and how thick the dry sheet should be on average."""

    smooth_passes_low: int
    smooth_passes_high: int
    pattern_passes: int
    dry_mm_low: float
    dry_mm_high: float
    sources: tuple[str, ...]


def rolling() -> Rolling:
    """The published passes and thickness. Keep hands off the nip; two people, no loose sleeves."""
    names = ("smooth_passes_low", "smooth_passes_high", "pattern_passes", "sheet_mm_low", "sheet_mm_high")
    low, high, pattern, thin, thick = (value(name) for name in names)
    return Rolling(int(low), int(high), int(pattern), thin, thick, source(*names))


def sheets_from(dry_kg: float, sheet_dry_kg: float) -> int:
    """Whole sheets that so much dry rubber makes, rounded half up; at least one if there is any rubber."""
    _above_zero("A sheet's dry weight", sheet_dry_kg)
    return max(1, int(dry_kg / sheet_dry_kg + 0.5)) if dry_kg > 0 else 0


def thickness_mm(dry_kg: float, length_cm: float, width_cm: float) -> float:
    """Mean thickness of a dry sheet, mm, from its weight and size (density of rubber: Smith 1940)."""
    _above_zero("A sheet's length", length_cm)
    _above_zero("A sheet's width", width_cm)
    return dry_kg / value("rubber_density") / (length_cm * width_cm) * 1e4


def wet_basis(dry_basis_percent: float) -> float:
    """Moisture on the wet basis, %, from the dry basis (45.8 % d.b. = 31.4 % w.b.)."""
    if not dry_basis_percent >= 0:
        raise SheetRefused(f"Moisture cannot be {dry_basis_percent:g} %.")
    return 100 * dry_basis_percent / (100 + dry_basis_percent)


def dry_basis(wet_basis_percent: float) -> float:
    """Moisture on the dry basis, %, from the wet basis."""
    return 100 * wet_basis_percent / (100 - _moisture(wet_basis_percent))


def moisture_from_weights(wet_kg: float, dry_kg: float) -> float:
    """Moisture on the wet basis, %, that the same sheets had when they weighed `wet_kg`."""
    _above_zero("Wet sheets", wet_kg)
    if not 0 <= dry_kg <= wet_kg:
        raise SheetRefused(f"Sheets of {wet_kg:g} kg wet cannot weigh {dry_kg:g} kg dry.")
    return 100 * (1 - dry_kg / wet_kg)


def weight_at(kg: float, moisture_percent: float, moisture_then_percent: float = 0.0) -> float:
    """What sheets of `kg` and this moisture will weigh at another moisture, kg (both w.b.)."""
    return kg * (100 - _moisture(moisture_percent)) / (100 - _moisture(moisture_then_percent))


def dry_weight(wet_kg: float) -> DryWeight:
    """Dry weight of milled sheets weighed wet, at 30 % moisture (25-33 % published), dried to 0.5 %.

    A farm's own sheets are known better: see `levels.expect_dry_from_wet`.
    """
    _above_zero("Wet sheets", wet_kg)
    names = ("sheet_moisture", "sheet_moisture_high", "sheet_moisture_low")
    kg, low, high = (weight_at(wet_kg, value(name), value("dry_moisture")) for name in names)
    return DryWeight(kg, low, high, value("sheet_moisture"), source(*names, "dry_moisture"))


def _moisture(percent: float) -> float:
    if not 0 <= percent < 100:
        raise SheetRefused(f"Moisture must be 0 to 100 % of the wet weight, not {percent:g}.")
    return percent


def _above_zero(what: str, given: float) -> None:
    if not 0 < given < float("inf"):
        raise SheetRefused(f"{what} must be above 0, not {given:g}.")
