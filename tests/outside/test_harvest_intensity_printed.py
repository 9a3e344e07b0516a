"""Tapping intensity and tappings a year against figures in print."""

from fractions import Fraction

import pytest

from bot.rubber.intensity import intensity, tappers_needed, total_intensity
from bot.rubber.notation import read
from bot.rubber.tapping_system import TappingSystem


def system(text: str) -> TappingSystem:
    (only,) = read(text).systems
    return only


def test_a_half_spiral_every_second_day_and_two_in_turn_are_both_a_hundred() -> None:
    """Chantuma et al. 2011, IRRDB: S/2 d2 and two half spirals each at d4 in turn are of equal intensity. Printed."""
    assert intensity(system("S/2 d2")).nominal_percent == 100
    assert intensity(system("S/2 d4 (t,t)")).nominal_percent == 100


def test_both_ways_of_writing_the_double_cut_are_the_same_schedule() -> None:
    """Chantuma et al. 2016 write `2xS/2 d2 (t,t)`, Chantuma et al. 2011 `S/2 d4 (t,t)`. Printed."""
    visits, per_cut = intensity(system("2xS/2 d2 (t,t)")), intensity(system("S/2 d4 (t,t)"))

    assert visits == per_cut
    assert visits.visits_a_day == Fraction(1, 2)


@pytest.mark.parametrize(
    ("text", "percent"),
    [
        ("S/2 d2", 100),
        ("S/2 d3", 66.7),
        ("S/2 d4", 50),
        ("S/4 d2", 50),
        ("S/4 d3", 33.3),
        ("S/3 2d3", 88.9),
        ("2xS/2 d2 (t,t)", 100),
        ("S/2 d1", 200),
        ("S d4", 100),
    ],
)
def test_intensities_follow_the_rule_of_the_notation(text: str, percent: float) -> None:
    """Derived from the rule that S/2 d2 is 100 %."""
    assert intensity(system(text)).nominal_percent == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(
    ("text", "scheduled", "tappings"),
    [
        ("S/2 d1 6d/7", 171.4, 312),
        ("S/2 d2 6d/7", 85.7, 156),
        ("S/2 d3 6d/7", 57.1, 104),
        ("S/2 d4 6d/7", 42.9, 78),
        ("S/2 d5 6d/7", 34.3, 62.4),
        ("S/2 d6 6d/7", 28.6, 52),
        ("S/2 d7 6d/7", 28.6, 52),
        ("S/2 d2", 100, 182.5),
        ("S/2 d3 7d/7", 66.7, 121.7),
    ],
)
def test_rest_days_lower_what_is_scheduled(text: str, scheduled: float, tappings: float) -> None:
    """Derived: 52 weeks of six days, or 365 days. 52 a year at weekly tapping is printed (Rubber Board India, 990)."""
    found = intensity(system(text))

    assert found.scheduled_percent == pytest.approx(scheduled, abs=0.05)
    assert found.tappings_a_year == pytest.approx(tappings, abs=0.05)


def test_days_tapped_in_kottayam_stay_below_what_is_scheduled() -> None:
    """RRII 105 over 15 years: d2 2161, d3 1470, d4 1105, d6 766 tappings (printed, RRII, long-term trial)."""
    for text, tapped in [("S/2 d2", 2161), ("S/2 d3", 1470), ("S/2 d4", 1105), ("S/2 d6", 766)]:
        most = 15 * intensity(system(text + " 6d/7")).tappings_a_year
        assert 0.92 < tapped / most < 0.99


@pytest.mark.parametrize(
    ("before", "after", "fewer"),
    [("S/2 d3", "S/2 d4", 25), ("S/2 d3", "S/2 d6", 50), ("S/2 d2", "S/2 d3", 33)],
)
def test_tappers_saved_by_a_lower_frequency(before: str, after: str, fewer: float) -> None:
    """d3 to d4 and d6: Coulibaly et al. 2017; d2 to d3: Zar Ni Zaw et al. 2016. Printed."""
    need = {text: tappers_needed(1200, 1, system(text)) for text in (before, after)}

    assert 100 * (1 - need[after] / need[before]) == pytest.approx(fewer, abs=0.5)


def test_nine_and_six_hectares_a_tapper() -> None:
    """Daily Mirror (Sri Lanka), 4 March 2014: 900 trees a task are 9 ha a tapper, 600 trees 6 ha. Printed.

    With 300 trees a hectare and three tasks, that is d3.
    """
    assert tappers_needed(9, 900 / 300, system("S/2 d3")) == 1
    assert tappers_needed(6, 600 / 300, system("S/2 d3")) == 1
    assert tappers_needed(9.1, 900 / 300, system("S/2 d3")) == 2


def test_a_down_cut_and_an_up_cut_on_the_same_day_are_added() -> None:
    """The string is printed (vinahugo.com, copy); the sum follows from the rule."""
    assert total_intensity(read("S/2D d3 + S/4U d3")) == pytest.approx(100)
