"""Figures that a slip of the pen moves little."""

from random import Random
from statistics import NormalDist, fmean

import pytest

from bot.rubber.robust import FROM_MEDIAN, calm_mean, deviation, within


def test_the_median_of_distances_tells_the_standard_deviation_of_normal_figures() -> None:
    assert pytest.approx(1 / NormalDist().inv_cdf(0.75), abs=1e-4) == FROM_MEDIAN
    random = Random(1)
    drawn = [random.gauss(0, 3) for _ in range(4000)]
    assert deviation(drawn) == pytest.approx(3, rel=0.05)
    assert deviation([*drawn, *[1000.0] * 40]) == pytest.approx(3, rel=0.05)


def test_what_is_within_stays() -> None:
    assert [within(value, 2.0) for value in (-5.0, -1.0, 0.0, 2.0, 9.0)] == [-2.0, -1.0, 0.0, 2.0, 2.0]


def test_the_calm_mean_is_the_mean_but_for_what_lies_far_off() -> None:
    plain = [1.0, 2.0, 3.0, 4.0, 5.0]

    assert calm_mean(plain, 10) == fmean(plain)
    assert calm_mean([*plain, 1000.0], 3) == pytest.approx(3.5 + (-2.5 - 1.5 - 0.5 + 0.5 + 1.5 + 3) / 6)
