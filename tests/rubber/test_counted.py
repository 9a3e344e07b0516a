"""Sheets rolled against sheets weighed, by counts alone: worked by hand, and over counts drawn at random."""

from datetime import date, timedelta
from random import Random

import pytest

from bot.rubber.counted import LEAST, SHEETS, Hung, left_over

FIRST = date(2026, 3, 2)
LAG = 7


def on(n: int) -> date:
    return FIRST + timedelta(days=n)


def counts(
    seed: int, days: int, *, lost: float = 0.0, begins: int = 0, unsaid: float = 0.02, lag: int = LAG
) -> tuple[list[tuple[date, int]], list[tuple[date, int]]]:
    """Rolled each day, weighed after a week; some texts about rolling never came, and each sheet may vanish."""
    dice = Random(seed)
    rolled, weighed = [], []
    for n in range(days):
        count = dice.randrange(12, 30)
        if dice.random() >= unsaid:
            rolled.append((on(n), count + (dice.choice((-1, 1)) if dice.random() < 0.05 else 0)))
        gone = sum(dice.random() < lost for _ in range(count)) if n + lag >= begins else 0
        weighed.append((on(n + lag), count - gone))
    return rolled, weighed


def test_each_weighing_is_held_against_its_own_rolling() -> None:
    hung = Hung([(on(0), 20), (on(1), 24), (on(2), 16)])
    weighed = [(on(7), 20), (on(8), 23), (on(9), 16)]

    assert hung.left(weighed, 7) == [1.0, 0.0]
    assert hung.left(weighed, 8) == [20.0 - 23.0, 24.0 - 16.0]
    assert hung.lag(weighed) == 7


def test_weighings_that_are_days_apart_are_held_against_all_that_was_rolled_between() -> None:
    hung = Hung([(on(n), 10) for n in range(10)])

    assert hung.left([(on(7), 10), (on(10), 28), (on(14), 40)], 7) == [2.0, 0.0]


def test_one_sheet_each_time_adds_up_against_the_root_of_the_number_of_weighings() -> None:
    rolled = [(on(n), 20 + 7 * n % 11) for n in range(40)]
    weighed = [(on(n + LAG), count - (n >= 28)) for n, (_, count) in enumerate(rolled)]

    found = left_over(rolled, weighed, on(35), on(46))

    # Twelve weighings, a sheet less each; before them all fitted, and counts are thought to waver by half a sheet.
    assert found is not None
    assert found.sheets == 12
    assert found.deviations == pytest.approx(12 / LEAST / 12**0.5)


def test_a_rolling_that_nobody_texted_is_no_pattern() -> None:
    rolled = [(on(n), 20 + 7 * n % 11) for n in range(40) if n != 33]
    weighed = [(on(n + LAG), 20 + 7 * n % 11) for n in range(40)]

    found = left_over(rolled, weighed, on(35), on(46))

    assert found is not None
    assert found.sheets == -SHEETS  # 20 more were weighed than rolled: counted as two


def test_without_enough_weighings_before_or_since_nothing_is_said() -> None:
    rolled, weighed = counts(1, 20)

    assert left_over(rolled, weighed, on(10), on(26)) is None
    assert left_over(rolled, weighed, on(24), on(26)) is None


@pytest.mark.parametrize(("share", "days", "found"), [(0.03, 28, 0.6), (0.05, 28, 0.95), (0.08, 14, 0.95)])
def test_sheets_that_vanish_are_found_by_their_share(share: float, days: int, found: float) -> None:
    seen = 0
    for seed in range(60):
        one = left_over(*counts(seed, 90, lost=share, begins=97 - days), on(97 - days), on(97))
        seen += one is not None and one.deviations >= 3.5

    assert seen >= found * 60


def test_where_none_vanish_hardly_any_are_missed() -> None:
    told = [left_over(*counts(seed, 90), on(97 - 28), on(97)) for seed in range(300)]

    assert sum(each is not None and each.deviations >= 3.5 for each in told) <= 1
