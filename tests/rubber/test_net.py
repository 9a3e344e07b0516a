"""Balances against each other: figures worked by hand, and least squares over the whole net solved apart from the program."""

from collections.abc import Sequence
from datetime import date, timedelta
from random import Random

import numpy as np
import pytest

from bot.rubber.net import ENOUGH, TOLERANCE, Limits, Off, Pair, against, off

FIRST = date(2026, 3, 2)
LIMITS = Limits(4.0, 0.02)


def pair(n: int, one: str, other: str, apart: float, error: float = 0.02) -> Pair:
    return Pair(FIRST + timedelta(days=n), one, other, apart, error**2)


def test_a_balance_is_off_by_the_mean_of_what_it_differs_by() -> None:
    # Nine weights, each with an error of 3 %: the mean has one of 1 %, and right balances differ by 0.7 % for ever.
    found = against("Mara", [pair(n, "Mara", f"home {n}", -0.05, 0.03) for n in range(9)], FIRST, {})

    assert found is not None
    assert found.fraction == pytest.approx(-0.05)
    assert found.deviations == pytest.approx(-0.05 / (0.01**2 + TOLERANCE**2) ** 0.5)
    assert found.weights == 9


def test_what_is_known_of_the_other_balance_is_taken_off() -> None:
    known = {"Mara": Off("Mara", FIRST + timedelta(days=4), -0.05, -9.0, 20)}
    pairs = [pair(n, "Mara", "home", 0.0) for n in range(4, 10)]

    found = against("home", pairs, FIRST, known)
    before = against("home", [pair(n, "Mara", "home", 0.0) for n in range(4)], FIRST, known)

    assert found is not None
    assert before is not None
    assert found.fraction == pytest.approx(-0.05)  # it agrees with a balance that shows 5 % less
    assert before.fraction == pytest.approx(0.0)  # which did not yet do so then


def test_few_weights_say_nothing() -> None:
    pairs = [pair(n, "Mara", "home", -0.3) for n in range(ENOUGH - 1)]

    assert against("Mara", pairs, FIRST, {}) is None
    assert off(pairs, [FIRST], LIMITS) == []


def test_one_slip_of_the_pen_makes_no_balance_wrong() -> None:
    pairs = [pair(n, "Mara", f"home {n % 3}", -0.6 if n == 4 else 0.0) for n in range(9)]

    assert off(pairs, [FIRST], LIMITS) == []


def test_small_differences_are_not_told_however_sure() -> None:
    pairs = [pair(n, "Mara", f"home {n % 9}", -0.019, 0.01) for n in range(400)]

    assert off(pairs, [FIRST], LIMITS) == []


def a_net(seed: int, true: dict[str, float], weeks: int, begins: int = 0) -> list[Pair]:
    """Twelve farms, each with two collectors of four a week; balances are off from a day on."""
    dice, found = Random(seed), []
    for week in range(weeks):
        for farm in range(12):
            for k in range(2):
                one, other, day = f"c{(farm + k) % 4}", f"home {farm}", 7 * week + 3 * k
                both = (true.get(one, 0.0) - true.get(other, 0.0)) * (day >= begins)
                found.append(pair(day, one, other, both + dice.gauss(0, 0.015), 0.015))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_a_low_collector_and_two_low_balances_at_his_farms_are_told_apart(seed: int) -> None:
    """At home 0 and home 1 all weights agree with the low collector's, and only the other collector seems to be off."""
    true = {"c0": -0.05, "home 0": -0.05, "home 3": -0.05}

    found = off(a_net(seed, true, 5), [FIRST], LIMITS)

    assert {each.key for each in found} == set(true)
    assert all(each.fraction == pytest.approx(-0.05, abs=0.02) for each in found)


def test_right_balances_are_hardly_ever_told() -> None:
    beginnings = [FIRST + timedelta(days=7 * n) for n in range(8)]

    told = sum(len(off(a_net(seed, {}, 9), beginnings, LIMITS)) for seed in range(20))

    assert told <= 2  # of 320 balances over two months


def test_it_is_told_from_about_the_day_on_which_it_began() -> None:
    beginnings = [FIRST + timedelta(days=7 * n) for n in range(8)]

    found = off(a_net(1, {"c1": -0.05}, 9, begins=35), beginnings, LIMITS)

    assert [each.key for each in found] == ["c1"]
    assert abs((found[0].since - FIRST).days - 35) <= 7


def test_what_all_are_off_by_is_that_of_least_squares_over_the_whole_net() -> None:
    """Unknown: the fraction of each balance that is found; the others are taken to be right. All differences at once, with numpy."""
    pairs = a_net(3, {"c0": -0.06, "home 5": 0.05}, 8)
    found = off(pairs, [FIRST], LIMITS)
    keys = [each.key for each in found]

    rows = np.array([[(each.one == key) - (each.other == key) for key in keys] for each in pairs], dtype=float)
    solved, *_ = np.linalg.lstsq(rows, np.array([each.apart for each in pairs]), rcond=None)

    assert set(keys) == {"c0", "home 5"}
    # Weights beyond two deviations pull less here: a tenth of what the plain squares are unsure by.
    assert fractions(found) == pytest.approx(list(solved), abs=0.003)


def fractions(found: Sequence[Off]) -> list[float]:
    return [each.fraction for each in found]
