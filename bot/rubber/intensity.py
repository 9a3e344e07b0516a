"""How hard a tapping system works a tree: relative intensity, and tappings a year.

Relative intensity is cuts x share of the girth x tappings a day x 400, so that S/2 d2 is 100 %. Tappings are counted as
visits to the tree. Two ways of writing the same double-cut scheme are in use: `2xS/2 d2 (t,t)` gives the visits,
`S/2 d4 (t,t)` the tappings of each cut; both are a visit every second day and each cut every fourth.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

from bot.rubber.harvest_reference import source, value
from bot.rubber.tapping_system import Cut, Notation, TappingSystem

DAYS_A_YEAR = 365


class IncompleteSystemError(ValueError):
    """A system that leaves out what the answer depends on."""


@dataclass(frozen=True)
class Intensity:
    """Relative intensity in %, and tappings a year, with what they were computed from.

    `nominal_percent` is by cut and frequency alone; `scheduled_percent` also counts rest days and months without
    tapping, as some authors do. `tappings_a_year` is the most that the schedule allows, with no day lost.
    """

    cuts_counted: int
    share_of_girth: Fraction
    visits_a_day: Fraction
    nominal_percent: float
    scheduled_percent: float
    tappings_a_year: float
    sources: tuple[str, ...]


def intensity(system: TappingSystem, girth_cm: float | None = None) -> Intensity:
    """The intensity of one system; the girth is needed for a mini-cut only.

    Raises IncompleteSystemError if the system has no frequency, or a mini-cut comes without a girth.
    """
    visits = visits_a_day(system)
    cuts = 1 if system.alternation else system.cut.count
    share = _share_of_girth(system.cut, girth_cm)
    nominal = cuts * share * visits * Fraction(value("intensity_base"))
    scheduled = nominal * worked_share(system) * (system.season.share if system.season else 1)
    sources = source("intensity_base", "weeks_a_year")
    return Intensity(cuts, share, visits, float(nominal), float(scheduled), tappings_a_year(system), sources)


def total_intensity(notation: Notation, girth_cm: float | None = None) -> float:
    """Nominal intensity in % of cuts that are all tapped on the same day ("+" between them).

    Raises IncompleteSystemError as `intensity` does, and where systems are merely listed (";").
    """
    if ";" in notation.joiners:
        raise IncompleteSystemError('systems listed with ";" have no intensity in common; ask for each by itself')
    return sum(intensity(system, girth_cm).nominal_percent for system in notation.systems)


def visits_a_day(system: TappingSystem) -> Fraction:
    """Visits to the tree on a working day (1/3 for d3).

    A second frequency is a pattern of work (`d1 2d3`: daily, on two days of three) or, with one tapping, an interval in
    turn with the first (`d2 d3`: after two days, then after three).
    Raises IncompleteSystemError if the system has no frequency.
    """
    return _own_visits(system) * (2 if per_cut(system) else 1)


def per_cut(system: TappingSystem) -> bool:
    """True if the frequency is that of each of two cuts tapped in turn (`S/2 d4 (t,t)`): visits are twice as many."""
    turns = system.alternation
    return turns is not None and system.cut.count == 1 and all(turn.unit == "t" for turn in turns)


def _own_visits(system: TappingSystem) -> Fraction:
    if not system.frequencies:
        raise IncompleteSystemError("the notation does not say how often the trees are tapped, such as d3")
    first, *rest = system.frequencies
    if not rest:
        return first.per_day
    second = rest[0]
    if second.days > 1:
        return first.per_day * second.per_day
    return (first.days + 1) / (first.period + second.period)


def on_fixed_weekday(system: TappingSystem) -> bool:
    """True for d7, d14 and the like: with a rest day a week, the tapping keeps its weekday and loses nothing by it."""
    interval = 1 / visits_a_day(system)
    return interval % (system.week.total if system.week else 7) == 0


def worked_share(system: TappingSystem) -> Fraction:
    """Share of the tappings that rest days leave: 6/7 at 6d/7, but the whole for a tapping on a fixed weekday."""
    if system.week is None or on_fixed_weekday(system):
        return Fraction(1)
    return system.week.share


def tappings_a_year(system: TappingSystem) -> float:
    """Visits to each tree in a year with no day lost.

    With rest days the year has 52 weeks, as usual in the trade (d2 6d/7: 156); tapped all week it has 365 days.
    Raises IncompleteSystemError if the system has no frequency.
    """
    week, visits = system.week, visits_a_day(system)
    weeks = Fraction(value("weeks_a_year"))
    rests = week is not None and week.working < week.total
    if rests and on_fixed_weekday(system):
        tappings = visits * 7 * weeks
    elif rests and week is not None:
        tappings = visits * 7 * week.share * weeks
    else:
        tappings = visits * DAYS_A_YEAR
    return float(tappings * (system.season.share if system.season else 1))


def tappers_needed(area_ha: float, hectares_a_task: float, system: TappingSystem) -> int:
    """Tappers for an area, if each taps one task a day and a task again when its turn comes (d3: three tasks).

    Raises ValueError for areas that are not above 0.
    """
    if area_ha <= 0 or hectares_a_task <= 0:
        raise ValueError("the area and the hectares of a task have to be above 0")
    return math.ceil(Fraction(area_ha) / Fraction(hectares_a_task) * visits_a_day(system))


def _share_of_girth(cut: Cut, girth_cm: float | None) -> Fraction:
    if cut.fraction is not None:
        return cut.fraction
    if girth_cm is None or girth_cm <= 0:
        raise IncompleteSystemError("a mini-cut has no share of the girth unless the girth in cm is given")
    return (cut.length_cm or Fraction(0)) / Fraction(girth_cm)
