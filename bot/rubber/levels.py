"""What else a farm teaches: the dry weight that wet sheets give, and the litres that a block brings on a day.

The same filter as `estimate`, on smaller models. Wet sheets: dry kg = wet kg x share + error, the share starting from
sheets of 30 % moisture after milling and drifting slowly. Litres: logarithm of the litres = farm + block + rain +
stimulation + the day, so that everything acts in proportion; a block starts from its usual litres where the farm has
said them.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from bot.rubber.estimate import Latex, quantities
from bot.rubber.filtering import Kind, Learned, Name, Observation, foresee, learn
from bot.rubber.reference import value

SHARE: Name = ("share", "")


@dataclass(frozen=True)
class WetSheets:
    """Sheets weighed wet after milling and again when dry, kg, on the day they were rolled. `key` names the entry."""

    key: str
    day: date
    wet_kg: float
    dry_kg: float


@dataclass(frozen=True)
class Brought:
    """Latex that was brought. `key` names the entry."""

    key: str
    latex: Latex


@dataclass(frozen=True)
class Range:
    """What to expect, and the range that should hold it four times out of five."""

    middle: float
    low: float
    high: float
    observations: int


def refit_sheets(events: Iterable[WetSheets]) -> Learned:
    """What is known of the farm's wet sheets. Raises ValueError for a weight that is not above 0."""
    ordered = sorted(events, key=lambda each: (each.day, each.key))
    return learn(Learned({"share": _SHARE_KIND}), (_sheets(each) for each in ordered))


def expect_dry_from_wet(learned: Learned, day: date, wet_kg: float) -> Range:
    """Dry kg that so many kg of wet milled sheets should give."""
    if not wet_kg > 0:
        raise ValueError("Wet sheets must weigh more than 0 kg.")
    found = foresee(learned, day, {SHARE: wet_kg}, _sheet_noise(wet_kg))
    return Range(found.mean, max(0.0, found.low), min(found.high, wet_kg), learned.seen.get(SHARE, 0))


def prior_litres(usual_litres: Mapping[str, float] | None = None) -> Learned:
    """What is known before any latex came; `usual_litres` are the farm's own figures by block."""
    own = {("block", block): _block_kind(litres) for block, litres in (usual_litres or {}).items()}
    return Learned(_LITRES_KINDS, own)


def refit_litres(
    events: Iterable[Brought], usual_litres: Mapping[str, float] | None = None, *, start: Learned | None = None
) -> Learned:
    """What is known of the litres each block brings; `usual_litres` are the farm's own figures by block.

    With `start` (from an earlier refit, whose usual litres hold) only events of that day or later may come. Raises
    ValueError for litres that are not above 0.
    """
    ordered = sorted(events, key=lambda each: (each.latex.day, each.key))
    return learn(start or prior_litres(usual_litres), (_litres(each) for each in ordered))


def expect_litres(learned: Learned, latex: Latex) -> Range:
    """Litres that the block should bring on that day; the litres in `latex` are not looked at."""
    found = foresee(learned, latex.day, quantities(latex), value("litres_day_spread") ** 2)
    middle, low, high = (math.exp(each) for each in (found.mean, found.low, found.high))
    return Range(middle, low, high, learned.seen.get(("block", latex.block), 0))


_SHARE_KIND = Kind(
    1 - value("sheet_moisture") / 100,
    (value("sheet_moisture_spread") / 100) ** 2,
    (value("sheet_moisture_drift") / 100) ** 2,
    (value("sheet_moisture_spread") / 100) ** 2,
)


def _block_kind(usual_litres: float | None) -> Kind:
    spread = "litres_block_spread" if usual_litres is None else "litres_usual_spread"
    mean = math.log(usual_litres or value("litres_block"))
    return Kind(mean, value(spread) ** 2, value("litres_block_drift") ** 2, value("litres_block_jump") ** 2)


_LITRES_KINDS: Mapping[str, Kind] = {
    "farm": Kind(0.0, value("litres_farm_spread") ** 2, value("litres_farm_drift") ** 2),
    "block": _block_kind(None),
    "rain": Kind(0.0, value("litres_effect_spread") ** 2),
    "stimulation": Kind(0.0, value("litres_effect_spread") ** 2),
}


def _sheets(each: WetSheets) -> Observation:
    if not each.dry_kg > 0 or not each.wet_kg > 0:
        raise ValueError(f"Sheets {each.key} must weigh more than 0 kg, wet and dry.")
    noise = _sheet_noise(each.wet_kg)
    return Observation(each.key, each.day, {SHARE: each.wet_kg}, each.dry_kg, noise, (SHARE,), scored=True)


def _sheet_noise(wet_kg: float) -> float:
    return (value("sheet_moisture_batch") / 100 * wet_kg) ** 2


def _litres(each: Brought) -> Observation:
    if not each.latex.litres > 0:
        raise ValueError(f"Entry {each.key} must have more than 0 litres.")
    block = ("block", each.latex.block)
    weights, noise = quantities(each.latex), value("litres_day_spread") ** 2
    return Observation(each.key, each.latex.day, weights, math.log(each.latex.litres), noise, (block,), scored=True)
