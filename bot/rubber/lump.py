"""Cup lump and scrap: the dry rubber in them by age, and how much of the crop should come so.

A lump of one day holds 55 % water, of fifteen days about 17 % (Suchat 2014); between the two only "falls steadily" is
printed, so the range goes from an even fall to one that slows down. Dry matter is not yet rubber: serum solids and dirt
are in it.
"""

from dataclasses import dataclass
from enum import StrEnum

from bot.rubber.reference import source, value


class Verdict(StrEnum):
    """How the share of lump compares with what is published."""

    LOW = "low"
    USUAL = "usual"
    HIGH = "high"


@dataclass(frozen=True)
class DryContent:
    """Dry rubber in lump, % of its weight: lowest, middle, highest. `aged_out` if it is older than the figures go."""

    low: float
    percent: float
    high: float
    aged_out: bool
    sources: tuple[str, ...]


@dataclass(frozen=True)
class ShareOfCrop:
    """How much of the dry crop came as lump, %, and whether that is out of the published range."""

    percent: float
    verdict: Verdict
    low: float
    high: float
    sources: tuple[str, ...]


def dry_content(age_days: float) -> DryContent:
    """Dry rubber in cup lump of this age, % of its weight now. Before a day and after fifteen it is held.

    Raises ValueError for a negative age.
    """
    if not age_days >= 0:
        raise ValueError(f"A lump cannot be {age_days:g} days old.")
    first, last = value("lump_first_day"), value("lump_last_day")
    gone = (min(max(age_days, first), last) - first) / (last - first)
    wet, dry = value("lump_moisture_first"), value("lump_moisture_last")
    even, slowing = wet + (dry - wet) * gone, wet * (dry / wet) ** gone
    other, error = value("lump_not_rubber"), value("lump_moisture_error")
    return DryContent(
        low=100 - even - other - error,
        percent=100 - (even + slowing) / 2 - other / 2,
        high=100 - slowing + error,
        aged_out=age_days > last,
        sources=source("lump_moisture_first", "lump_not_rubber"),
    )


def dry_matter(kg: float, moisture_percent: float) -> float:
    """Dry matter in lump of a measured moisture (% w.b.), kg: rubber, and the little serum and dirt with it.

    Raises ValueError for a moisture outside 0-100 % or a negative weight.
    """
    if not 0 <= moisture_percent <= 100 or not kg >= 0:
        raise ValueError(f"{kg:g} kg of lump with {moisture_percent:g} % water cannot be.")
    return kg * (100 - moisture_percent) / 100


def dry_kg(kg: float, age_days: float) -> tuple[float, float, float]:
    """Dry rubber in so many kg of lump of this age: middle, lowest, highest."""
    content = dry_content(age_days)
    middle, low, high = (dry_matter(kg, 100 - each) for each in (content.percent, content.low, content.high))
    return middle, low, high


def scrap_dry_kg(kg: float) -> tuple[float, float]:
    """Dry rubber in so many kg of bark shavings and tree scrap: lowest and highest (30-40 %, Morgan 1922, p. 123)."""
    low, high = (dry_matter(kg, 100 - value(name)) for name in ("scrap_rubber_low", "scrap_rubber_high"))
    return low, high


def share_of_crop(latex_dry_kg: float, lump_dry_kg: float) -> ShareOfCrop | None:
    """The share of lump and scrap in a crop, both as dry kg; None without a crop. 10-30 % is published.

    Raises ValueError for negative weights.
    """
    if not latex_dry_kg >= 0 or not lump_dry_kg >= 0:
        raise ValueError("Weights cannot be negative.")
    if latex_dry_kg + lump_dry_kg == 0:
        return None
    percent = 100 * lump_dry_kg / (latex_dry_kg + lump_dry_kg)
    low, high = value("lump_share_low"), value("lump_share_high")
    verdict = Verdict.LOW if percent < low else Verdict.HIGH if percent > high else Verdict.USUAL
    return ShareOfCrop(percent, verdict, low, high, source("lump_share_low", "lump_share_high"))
