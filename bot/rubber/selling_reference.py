"""Every constant of selling: grades, bales, tolerances and defaults of reconciliation, with unit, source and status.

Prices, grade premiums and moisture discounts are not constants; they come with each sale.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bot.rubber.reference import MEMORY, PRACTICE, PUBLISHED, Constant, Status

SELLING_SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "Green Book": "International Standards of Quality and Packing for Natural Rubber Grades (copies of parts)",
        "Indian grade page": "Rubber Board of India, indiannaturalrubber.com, ribbed smoked sheet",
        "South Sumatra list": "South Sumatra plantation office and exporters, price list, 22 February 2021",
        "Kerala latex prices": "keralafarmeronline.com, on the price of latex",
        "Chanthaburi federation": "Report on a federation of rubber cooperatives, Chanthaburi, Thailand (copy)",
        "Smith 1947": "H. Fairfield Smith, J. Rubber Res. Inst. Malaya, Communication 263, 1947",
        "Malaysian incentive": "Lembaga Getah Malaysia, production incentive, via Bernama",
    }
)

SELLING: Mapping[str, Constant] = MappingProxyType(
    {
        row[0]: Constant(*row)
        for row in [
            ("bale_rss", 111.11, "kg, nine to the tonne", "Chanthaburi federation", PUBLISHED),
            ("bale_domestic_india", 50.0, "kg", "Indian grade page", PUBLISHED),
            ("bale_most_lb", 250.0, "lb in 5 cubic feet", "Green Book", PUBLISHED),
            ("bale_least_lb", 224.0, "lb net", "Green Book", PUBLISHED),
            ("dry_content_cooperative_low", 50.0, "% of slab", "South Sumatra list", PUBLISHED),
            ("dry_content_cooperative_high", 60.0, "% of slab", "South Sumatra list", PUBLISHED),
            ("batch_flag", 5.0, "% between field and factory", "no source; DRC and litres by one step each", PRACTICE),
            ("tapper_flag", 10.0, "% of a tapper's own", "no source; DRC and litres by one step each", PRACTICE),
        ]
    }
)


@dataclass(frozen=True)
class Grade:
    """A visual grade of ribbed smoked sheet; `mould_percent` of the sampled bales may show dry mould or rust."""

    name: str
    summary: str
    mould_percent: int
    source: str
    status: Status


GRADES: Mapping[str, Grade] = MappingProxyType(
    {
        row[0]: Grade(*row)
        for row in [
            ("RSS1X", "even smoke, dry, clean, strong; scattered pin-head bubbles", 0, "Indian grade page", PUBLISHED),
            ("RSS1", "as RSS1X, slight specks", 0, "Indian grade page", PUBLISHED),
            ("RSS2", "slight rust and dry mould, small bubbles, slight bark specks", 5, "Indian grade page", PUBLISHED),
            ("RSS3", "slight colour blemishes, small bubbles, small bark specks", 10, "Green Book", MEMORY),
            ("RSS4", "medium bark, bubbles, stains; slightly sticky or over-smoked", 20, "Green Book", MEMORY),
            ("RSS5", "larger bark, blisters, stains; slightly under-cured", 30, "Green Book", MEMORY),
        ]
    }
)


def value(name: str) -> float:
    """The value of a constant; its unit stands in `SELLING[name].unit`.

    Raises KeyError for a name that is not in the registry.
    """
    return SELLING[name].value


def citation(short: str) -> str:
    """The full citation of a short source name, or the name itself where there is none."""
    return SELLING_SOURCES.get(short, short)
