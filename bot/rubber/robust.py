"""Figures that a slip of the pen moves little."""

from collections.abc import Iterable, Sequence
from statistics import fmean, median

#: From the median of distances to a standard deviation, for a normal distribution: 1 over its upper quartile, 0.6745.
FROM_MEDIAN = 1.4826


def deviation(distances: Iterable[float]) -> float:
    """A standard deviation from how far figures lie from their middle, whatever a few of them do."""
    return FROM_MEDIAN * median(abs(each) for each in distances)


def within(value: float, most: float) -> float:
    """The value, or what is nearest to it between so much below and above 0."""
    return max(-most, min(most, value))


def calm_mean(values: Sequence[float], most: float) -> float:
    """The mean, in which what lies further than `most` from the middle counts as if it lay there."""
    middle = median(values)
    return middle + fmean(within(value - middle, most) for value in values)
