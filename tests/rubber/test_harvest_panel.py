"""Panels, stimulation and dry trees."""

from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.dryness import dry_cut_percent, dry_share, new_dry_trees, rest_tree
from bot.rubber.panel import (
    PanelError,
    bark_cm,
    bark_left,
    bark_use,
    cut_line,
    mm_allowed,
    next_panel,
    opening_ready,
    panel_years,
    renewed_bark,
    trees_needed,
    vertical_mm,
)
from bot.rubber.stimulation import (
    StimulationError,
    advice,
    before_tappings,
    mixture,
    mixture_for_trees,
    next_round,
    round_days,
    usual_strength,
)
from bot.rubber.tapping_system import Panel, Rounds

FIRST = Panel("B", "O", 1)


def test_the_bark_left_gives_tappings_the_last_day_and_the_next_panel() -> None:
    days = [date(2026, 3, 2) + timedelta(days=3 * step) for step in range(100)]

    left = bark_left(FIRST, opening_cm=130, now_cm=25, end_cm=22, mm_a_tapping=1.5, days=days)

    assert (left.used_cm, left.left_cm, left.tappings_left) == (105, 3, 20)
    assert left.last_day == days[19]
    assert str(left.next_panel) == "BO-2"


def test_an_upward_panel_ends_above() -> None:
    left = bark_left(Panel("H", "O", 1), 130, 150, 170, 2.0, order=[Panel("H", "O", 1)])

    assert (left.used_cm, left.left_cm, left.tappings_left, left.next_panel) == (20, 20, 100, None)


def test_a_finished_panel_and_one_beyond_the_days_have_no_last_day() -> None:
    assert bark_left(FIRST, 130, 20, 20, 1.5, [date(2026, 3, 2)]).last_day is None
    assert bark_left(FIRST, 130, 60, 20, 1.5, [date(2026, 3, 2)]).last_day is None


def test_rounding_of_heights_loses_no_tapping() -> None:
    assert bark_left(FIRST, 130, 20.3, 20, 0.1).tappings_left == 30


@pytest.mark.parametrize(("now", "end"), [(131, 20), (10, 20), (130, 130), (float("nan"), 20), (float("inf"), 20)])
def test_a_cut_outside_the_panel_is_refused(now: float, end: float) -> None:
    with pytest.raises(PanelError):
        bark_left(FIRST, 130, now, end, 1.5)


def test_a_panel_outside_the_order_is_refused() -> None:
    with pytest.raises(PanelError, match="HO-4 is not in the order of panels: BO-1, BO-2, BI-1, BI-2"):
        next_panel(Panel("H", "O", 4))


@pytest.mark.parametrize(
    ("used", "tappings", "mm", "kind", "allowed"),
    [
        (15.2, 12, 1.5, "within", 28 / 12),
        (16.2, 12, 1.5, "within", 1.5),
        (16.3, 12, 1.5, "heading over", 17 / 12),
        (18.1, 12, 1.5, "over", None),
        (17.0, 0, 1.5, "within", None),
    ],
)
def test_bark_use_against_the_limit(used: float, tappings: int, mm: float, kind: str, allowed: float | None) -> None:
    use = bark_use(used, tappings, mm, 18)

    assert use.kind == kind
    assert use.mm_allowed == pytest.approx(allowed)


@given(st.floats(0, 17.9), st.integers(1, 200))
def test_tapping_at_what_is_allowed_keeps_to_the_limit(used: float, tappings: int) -> None:
    allowed = bark_use(used, tappings, 9.0, 18).mm_allowed

    assert allowed is not None
    assert bark_use(used, tappings, allowed, 18).kind == "within"


@given(st.floats(20, 300), st.floats(0.1, 1), st.floats(0, 80))
def test_a_cut_is_never_shorter_than_its_share_of_the_girth(girth: float, fraction: float, slope: float) -> None:
    cut = cut_line(girth, fraction, slope)

    assert cut.length_cm >= cut.girth_share_cm
    assert cut.drop_cm >= 0


@pytest.mark.parametrize(
    ("thickness", "age", "ready"), [(6, None, True), (5.9, None, False), (5, 10, True), (5, 9, False)]
)
def test_renewed_bark_is_thick_or_old_enough(thickness: float, age: float | None, ready: bool) -> None:
    assert renewed_bark(thickness, 6, age, 10).ready == ready


def test_a_block_opens_when_enough_trees_have_the_girth() -> None:
    assert opening_ready(70, 100, 70)
    assert not opening_ready(69, 100, 70)
    assert trees_needed(3, 50) == 2


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: cut_line(0, 0.5, 30),
        lambda: cut_line(50, 1.1, 30),
        lambda: cut_line(50, 0.5, 90),
        lambda: vertical_mm(-1, 30),
        lambda: bark_cm(-1, 1),
        lambda: mm_allowed(18, 0),
        lambda: panel_years(20, 130, 18),
        lambda: bark_use(-1, 1, 1, 18),
        lambda: renewed_bark(0, 6),
        lambda: opening_ready(5, 4, 50),
        lambda: trees_needed(100, 101),
    ],
)
def test_impossible_measures_are_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(PanelError):
        impossible()


# Stimulation

YEAR = (date(2026, 5, 1), date(2027, 2, 28))


def test_monthly_rounds_keep_the_day_of_the_month() -> None:
    assert round_days(Rounds(3, every=1, unit="m"), date(2026, 1, 31), date(2026, 12, 31)) == (
        date(2026, 1, 31),
        date(2026, 2, 28),
        date(2026, 3, 31),
    )


def test_rounds_by_weeks() -> None:
    days = round_days(Rounds(16, every=2, unit="w"), *YEAR)

    assert len(days) == 16
    assert days[1] - days[0] == timedelta(days=14)


def test_rounds_without_an_interval_are_spread_over_the_tapping_year() -> None:
    days = round_days(Rounds(6), *YEAR)

    assert days[0] == YEAR[0]
    assert len(days) == 6
    assert {(later - earlier).days for earlier, later in pairwise(days)} <= {50, 51}


def test_rounds_that_do_not_fit_the_tapping_year_are_left_out() -> None:
    assert len(round_days(Rounds(12, every=1, unit="m"), *YEAR)) == 10


def test_a_tapping_year_of_one_day_has_its_round_on_that_day() -> None:
    assert round_days(Rounds(1), YEAR[0], YEAR[0]) == (YEAR[0],)
    assert len(round_days(Rounds(2, every=1, unit="w"), YEAR[0], YEAR[0] + timedelta(days=7))) == 2


def test_the_next_round_comes_after_the_last_one_given() -> None:
    plan = round_days(Rounds(3, every=1, unit="m"), *YEAR)

    assert next_round(None, plan, date(2026, 5, 1)) == date(2026, 5, 1)
    assert next_round(date(2026, 5, 1), plan, date(2026, 5, 1)) == date(2026, 6, 1)
    assert next_round(date(2026, 7, 1), plan, date(2026, 7, 2)) is None


def test_what_speaks_against_stimulating() -> None:
    assert advice().allowed
    assert advice(dry_trees=True, wintering=True).obstacles == ("wintering", "dry trees")
    assert advice(days_since_last=10, shortest_days=21).obstacles == ("too soon",)
    assert advice(days_since_last=21, shortest_days=21).allowed


def test_a_stock_of_the_wanted_strength_takes_no_carrier() -> None:
    assert mixture(5, 5, 100).carrier_g == 0


@given(st.integers(1, 100), st.integers(1, 100), st.floats(1, 1e5))
def test_the_active_ingredient_is_kept_when_thinning(stock: int, percent: int, total: float) -> None:
    if percent > stock:
        with pytest.raises(StimulationError, match="weaker"):
            mixture(stock, percent, total)
        return
    found = mixture(stock, percent, total)
    assert found.stock_g + found.carrier_g == pytest.approx(total)
    assert found.stock_g * stock == pytest.approx(total * percent)


def test_grams_for_a_task() -> None:
    assert mixture_for_trees(300, 1.5) == 450


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: mixture(10, Fraction(5, 2), 0),
        lambda: mixture_for_trees(0, 1),
        lambda: round_days(Rounds(3), YEAR[1], YEAR[0]),
        lambda: before_tappings([], every=0),
        lambda: before_tappings([], hours=-1),
    ],
)
def test_impossible_plans_are_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(StimulationError):
        impossible()


def test_usual_strengths_carry_their_source() -> None:
    assert usual_strength() == (2.5, 5.0, ("Rubber Board 123",))


# Dry trees


@pytest.mark.parametrize(("dry", "kind"), [(0, "usual"), (4, "usual"), (5, "watch"), (32, "watch"), (33, "high")])
def test_the_share_of_dry_trees(dry: int, kind: str) -> None:
    found = dry_share(dry, 100)

    assert (found.percent, found.kind) == (dry, kind)


def test_a_farm_may_look_earlier() -> None:
    assert dry_share(3, 100, watch_percent=2).kind == "watch"


def test_trees_that_went_dry_between_two_counts() -> None:
    assert new_dry_trees(5, 9, 200) == 2
    assert new_dry_trees(9, 5, 200) == -2


def test_dry_length_by_class_uses_a_scale_from_memory() -> None:
    """The scale is from memory, so this checks the arithmetic alone."""
    assert dry_cut_percent([80, 5, 5, 4, 3, 2, 1]) == pytest.approx(8.9)


def test_a_tree_is_rested_when_half_of_its_cut_is_dry() -> None:
    assert rest_tree(50)
    assert not rest_tree(49)
    assert rest_tree(20, limit_percent=20)


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: dry_share(1, 0),
        lambda: dry_share(5, 4),
        lambda: dry_cut_percent([1, 2]),
        lambda: dry_cut_percent([0] * 7),
        lambda: rest_tree(101),
    ],
)
def test_impossible_counts_are_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError):
        impossible()
