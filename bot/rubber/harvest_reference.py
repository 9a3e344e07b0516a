"""Every constant of tapping and of yields: value, unit, source and status, in one place.

What differs between countries (girth, height, bark limits, seasons) stands in the profiles instead. A figure whose
status is "from memory" is a default at most. "(copy)" marks a source read in somebody else's copy of it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bot.rubber.reference import DERIVED, MEMORY, PRACTICE, PUBLISHED, Constant, Status

HARVEST_SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "Lukman 1983": "Lukman, Revised international notation for exploitation systems, JRRIM 31:130-140",
        "Chantuma 2011": "Chantuma, Lacote, Leconte & Gohet 2011, IRRDB conference, Chiang Mai",
        "Vietnam 2012": "Vietnam Rubber Group, technical procedure, 13 November 2012, articles 124-126",
        "Thai start hours": "Thai growers' forum, losses by hour of tapping (copy)",
        "Vietnam panel lecture": "Vietnamese text on tapping hours, citing a Malaysian report (copy)",
        "Eastern Sri Lanka hours": "Lakshman, Rodrigo, Kudaligama, Yapa & Randunu, starting hours in Eastern Sri Lanka",
        "Rubber Board 990": "Rubber Board India, news 990, weekly tapping, 13 June 2016",
        "Rubber Board 123": "Rubber Board India, ManageCultivation 123, stimulation",
        "Ruhuna 2016": "Silva, Senevirathna, Seneviratne & De Costa 2016, University of Ruhuna, renewed bark",
        "Nugawela 1999": "Nugawela 1999, Bulletin of the Rubber Research Institute of Sri Lanka, pp. 45-50",
        "Thai extension": "Thai extension text on rubber, baanjomyut.com (copy)",
        "Uva 2016": "Padmathilake et al. 2016, rain guards at Dartonfield, Uva Wellassa University",
        "Kerala crop page": "Kerala Agricultural University, crop collection",
        "Kottayam rain study": "Rao, Saraswathyamma & Sethuraj, weather before tapping (attribution from memory)",
        "Van de Sype 1984": "Dry-cut scale of the French and Ivorian institutes, van de Sype 1984",
        "Senevirathna 2010": "Senevirathna et al. 2010, J. Rubber Res. Inst. Sri Lanka 88:77",
        "Chinese smallholdings": "Abstract on dryness in 989 Chinese smallholdings",
        "Sri Lanka dry trees": "Harvesting of trees affected with tapping panel dryness, Sri Lanka, abstract",
        "Philippine manual": "CAP-PBD Post-Replanting Rubber Manual, chapter 6",
    }
)


@dataclass(frozen=True)
class HourBand:
    """Starting hours (from, to) and the crop lost against tapping in the usual hours, in %."""

    start: int
    end: int
    loss_percent: float
    source: str
    status: Status


def _bands(rows: Iterable[tuple[int, int, float]]) -> tuple[HourBand, ...]:
    return tuple(HourBand(*row, "Thai start hours", PUBLISHED) for row in rows)


START_HOURS: tuple[HourBand, ...] = _bands(
    [(0, 6, 0.0), (6, 8, 3.0), (9, 11, 20.0), (12, 14, 31.0), (15, 17, 23.0), (18, 20, 6.0), (20, 24, 0.0)]
)

HARVEST: Mapping[str, Constant] = MappingProxyType(
    {
        row[0]: Constant(*row)
        for row in [
            # Intensity and days
            ("intensity_base", 400.0, "% for one cut round the tree, tapped daily", "Lukman 1983", MEMORY),
            ("weeks_a_year", 52.0, "weeks of a calendar with rest days", "156, 104 and 78 tappings at 6d/7", DERIVED),
            # Resting and coming back
            ("flushing_rest", 30.0, "% of trees with bursting buds", "Vietnam 2012", PUBLISHED),
            ("cold_limit", 15.0, "C, mean of the day", "Vietnam 2012", PUBLISHED),
            ("cold_days", 3.0, "days running below the limit", "Vietnam 2012", PUBLISHED),
            ("long_gap", 30.0, "days without tapping, after which it is a new start", "no source", PRACTICE),
            # Rain and make-up tapping
            ("recoveries_harmless", 3.0, "make-up tappings a month", "Ruhuna 2016", PUBLISHED),
            ("recoveries_costly", 5.0, "make-up tappings a month", "Ruhuna 2016", PUBLISHED),
            ("rain_loss_wet_zone", 35.0, "% of the potential yield, unguarded, above 2500 mm", "Uva 2016", PUBLISHED),
            # Hours
            ("early_gain", 23.0, "% more at 04 h than at 06 h", "Vietnam panel lecture", PUBLISHED),
            ("start_hour_shift", 2.0, "h, the course of the day between regions", "no source", PRACTICE),
            ("flow_low", 2.0, "h from tapping to collecting", "Kerala crop page", PUBLISHED),
            ("flow_high", 3.0, "h from tapping to collecting", "Kerala crop page", PUBLISHED),
            # Stimulation
            ("weekly_stimulation_every", 5.0, "tappings, tapped weekly", "Rubber Board 990", PUBLISHED),
            ("weekly_stimulation_before", 72.0, "h before the tapping", "Rubber Board 990", PUBLISHED),
            ("stimulant_low", 2.5, "% active ingredient", "Rubber Board 123", PUBLISHED),
            ("stimulant_high", 5.0, "% active ingredient", "Rubber Board 123", PUBLISHED),
            # Dry trees
            ("dry_share_low", 12.0, "% of trees given up as dry", "Chinese smallholdings", PUBLISHED),
            ("dry_share_high", 32.0, "% of trees given up as dry", "Chinese smallholdings", PUBLISHED),
            ("dry_share_rric_100", 22.5, "% of trees partly or fully dry", "Senevirathna 2010", PUBLISHED),
            ("dry_share_rric_102", 19.7, "% of trees partly or fully dry", "Senevirathna 2010", PUBLISHED),
            ("dry_partly", 40.0, "% of dry trees that are only partly dry", "Senevirathna 2010", PUBLISHED),
            ("dry_watch", 5.0, "% of trees, worth a look", "no source", PRACTICE),
            ("dry_cut_rest", 50.0, "% of the cut dry, rest the tree", "no source read", MEMORY),
            # Grams a tree
            ("tree_grams_mean", 51.1, "g dry rubber a tree and tapping", "Kottayam rain study", PUBLISHED),
            ("tree_grams_low", 19.1, "g dry rubber a tree and tapping", "Kottayam rain study", PUBLISHED),
            ("tree_grams_high", 90.5, "g dry rubber a tree and tapping", "Kottayam rain study", PUBLISHED),
            # Projection of the year
            ("projection_spread", 25.0, "% up or down of the crop still to come", "no source", PRACTICE),
        ]
    }
)

DRY_CUT_SCALE: tuple[Constant, ...] = tuple(
    Constant(f"dry_class_{number}", percent, "% of the cut, middle of the class", "Van de Sype 1984", MEMORY)
    for number, percent in enumerate((0.0, 10.0, 30.0, 50.0, 70.0, 90.0, 100.0))
)


def value(name: str) -> float:
    """The value of a constant; its unit stands in `HARVEST[name].unit`.

    Raises KeyError for a name that is not in the registry.
    """
    return HARVEST[name].value


def source(*names: str) -> tuple[str, ...]:
    """The sources of the constants named, each once, in that order, with their status where it is not "published"."""
    return tuple(dict.fromkeys(_said(HARVEST[name]) for name in names))


def _said(constant: Constant) -> str:
    if constant.source.startswith("no source"):
        return constant.status
    return constant.source if constant.status == PUBLISHED else f"{constant.source} ({constant.status})"


def citation(short: str) -> str:
    """The full citation of a short source name, or the name itself where there is none."""
    return HARVEST_SOURCES.get(short, short)
