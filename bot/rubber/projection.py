"""The year's crop from the crop so far, by seasonal shape, with a range.

A shape says how a year's crop is spread over the months. What is harvested is known, so only the rest of the year is
uncertain: by the shapes that are thought possible (the farm's earlier years, the country's), and by a spread on top.
The range therefore narrows to nothing as the year ends.
"""

from calendar import monthrange
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bot.rubber.harvest_reference import source, value
from bot.rubber.reference import DERIVED, Status
from bot.rubber.yields import Tapping

LEAST_SHARE = 0.05


class ProjectionError(ValueError):
    """A shape that is none, or a year too young to be projected."""


@dataclass(frozen=True)
class Shape:
    """Twelve weights, January first, in any unit; where they come from and what that is worth."""

    name: str
    weights: tuple[float, ...]
    source: str
    status: Status

    def __post_init__(self) -> None:
        if len(self.weights) != 12 or min(self.weights) < 0 or not sum(self.weights) > 0:
            raise ProjectionError("a seasonal shape has twelve weights, none below 0 and not all 0")

    def percent(self, month: int) -> float:
        """The month's share of the year in %."""
        return 100 * self.weights[month - 1] / sum(self.weights)


@dataclass(frozen=True)
class Projection:
    """The year's crop in kg, lowest, middle and highest, from what is harvested and the share of the year that it is.

    The middle and `share_percent` follow the first shape.
    """

    so_far_kg: float
    share_percent: float
    low_kg: float
    middle_kg: float
    high_kg: float
    shapes: tuple[str, ...]
    spread_percent: float
    sources: tuple[str, ...]


def project(
    so_far_kg: float, start: date, today: date, shapes: Sequence[Shape], spread_percent: float | None = None
) -> Projection:
    """The crop of the tapping year that began on `start`, from the crop up to and with `today`.

    `shapes` are those thought possible, the likeliest first. The spread (25 % if not set: common practice, no source)
    is put on the crop still to come, down and up.
    Raises ProjectionError if no shape is given, today lies outside the year, or less than 5 % of the year's crop is
    usually in by now, so that a projection would be a guess.
    """
    spread = value("projection_spread") if spread_percent is None else spread_percent
    if not shapes or so_far_kg < 0 or not 0 <= spread <= 100:
        raise ProjectionError("a shape, a crop of 0 kg or more and a spread of 0 to 100 % are needed")
    shares = [share_so_far(shape, start, today) for shape in shapes]
    if min(shares) < LEAST_SHARE:
        raise ProjectionError("too little of the year is over to project its crop")
    rests = [so_far_kg * (1 - share) / share for share in shares]
    return Projection(
        so_far_kg,
        100 * shares[0],
        so_far_kg + min(rests) * (1 - spread / 100),
        so_far_kg + rests[0],
        so_far_kg + max(rests) * (1 + spread / 100),
        tuple(shape.name for shape in shapes),
        spread,
        tuple(dict.fromkeys([*(f"{shape.source} ({shape.status})" for shape in shapes), *source("projection_spread")])),
    )


def share_so_far(shape: Shape, start: date, today: date) -> float:
    """The share (0 to 1) of a tapping year's crop that is usually in by the end of `today`.

    Raises ProjectionError if today does not lie in the year that began on `start`.
    """
    end = _year_later(start)
    if not start <= today < end:
        raise ProjectionError("the day does not lie in the tapping year")
    return _weight(shape, start, today + timedelta(days=1)) / _weight(shape, start, end)


def shape_of(tappings: Iterable[Tapping], name: str) -> Shape:
    """The shape of a farm's own tappings, by month of the year.

    Raises ProjectionError if there is no crop in them.
    """
    weights = [0.0] * 12
    for tapping in tappings:
        weights[tapping.day.month - 1] += tapping.dry_kg
    return Shape(name, tuple(weights), "the farm's own tappings", DERIVED)


def _weight(shape: Shape, first: date, end: date) -> float:
    """The weight of the days from `first` to the day before `end`, days of a month counting alike."""
    total, day = 0.0, first
    while day < end:
        length = monthrange(day.year, day.month)[1]
        month_end = min(end, day.replace(day=1) + timedelta(days=length))
        total += shape.weights[day.month - 1] * (month_end - day).days / length
        day = month_end
    return total


def _year_later(day: date) -> date:
    return day.replace(year=day.year + 1, day=28 if (day.month, day.day) == (2, 29) else day.day)
