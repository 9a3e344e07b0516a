"""Yields by block, tapper and month; rain; comparisons; the projection of the year; units."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.projection import ProjectionError, Shape, project, shape_of, share_so_far
from bot.rubber.units import UNITS, UnitError, convert, price_per
from bot.rubber.yields import (
    Tapping,
    YieldError,
    against_last_year,
    change,
    grams_a_tree,
    in_range,
    kg_a_hectare,
    kg_a_hectare_year,
    kg_a_task,
    rain_loss,
    summed,
    summed_by,
    usual_grams,
)

TAPPINGS = (
    Tapping(date(2026, 3, 2), "3", "Ama", 300, 9.0),
    Tapping(date(2026, 3, 2), "5", "Yaw", 250, 5.0),
    Tapping(date(2026, 3, 5), "3", "Ama", 300, 6.0),
    Tapping(date(2026, 4, 1), "5", "Ama", 0, 4.0),
)


def test_tappings_are_summed() -> None:
    found = summed(TAPPINGS[:3])

    assert (found.tappings, found.tapper_days, found.dry_kg) == (3, 3, 20.0)
    assert found.grams_a_tree == pytest.approx(20_000 / 850)
    assert found.kg_a_tapper_day == pytest.approx(20 / 3)


def test_two_tasks_of_a_tapper_in_a_day_are_one_day_of_work() -> None:
    day = date(2026, 3, 2)
    both = [Tapping(day, "3", "Ama", 200, 5.0), Tapping(day, "5", "Ama", 100, 4.0)]

    assert (summed(both).tapper_days, summed(both).kg_a_tapper_day) == (1, 9.0)


def test_yields_by_block_tapper_and_month() -> None:
    assert {name: found.dry_kg for name, found in summed_by(TAPPINGS, "block").items()} == {"3": 15.0, "5": 9.0}
    assert {name: found.dry_kg for name, found in summed_by(TAPPINGS, "tapper").items()} == {"Ama": 19.0, "Yaw": 5.0}
    assert list(summed_by(TAPPINGS, "month")) == ["2026-03", "2026-04"]


def test_grams_need_counted_trees() -> None:
    assert summed(TAPPINGS[3:]).grams_a_tree is None
    assert summed_by(TAPPINGS, "block")["5"].grams_a_tree == 20


def test_this_year_against_last_year_to_the_same_day() -> None:
    tappings = [
        Tapping(date(2025, 3, 1), "3", "Ama", 300, 50.0),
        Tapping(date(2025, 3, 20), "3", "Ama", 300, 50.0),
        Tapping(date(2026, 3, 1), "3", "Ama", 300, 45.0),
    ]

    assert against_last_year(tappings, date(2026, 3, 10)) == change(45, 50)
    assert against_last_year(tappings, date(2026, 3, 31)).percent == pytest.approx(-55)


def test_a_tapping_year_may_begin_in_another_month() -> None:
    tappings = [Tapping(date(2025, 4, 30), "3", "Ama", 1, 7.0), Tapping(date(2025, 6, 1), "3", "Ama", 1, 9.0)]

    assert against_last_year(tappings, date(2026, 2, 1), first_month=5).now == 9
    assert against_last_year(tappings, date(2028, 2, 29), first_month=5).before == 0


def test_the_first_day_of_the_tapping_year_belongs_to_it() -> None:
    tappings = [Tapping(date(year, 1, 1), "3", "Ama", 300, 4.0) for year in (2025, 2026)]

    assert against_last_year(tappings, date(2026, 1, 1)) == change(4, 4)


def test_a_change_from_nothing_has_no_percent() -> None:
    assert change(5, 0).percent is None


def test_a_range_may_be_a_single_figure() -> None:
    assert in_range(5, 5, 5) == "within"


@pytest.mark.parametrize(("figure", "where"), [(19.0, "below"), (19.1, "within"), (90.5, "within"), (90.6, "above")])
def test_against_the_published_range(figure: float, where: str) -> None:
    low, high, sources = usual_grams()

    assert in_range(figure, low, high) == where
    assert sources == ("Kottayam rain study",)


def test_rain_without_a_price_costs_kilos_only() -> None:
    assert rain_loss(3, 6.5).lost_money is None
    assert rain_loss(3, 6.5, Decimal("1.50")).lost_money == Decimal("29.25")


@given(st.floats(0, 200), st.integers(1, 2000))
def test_grams_of_a_task_give_its_kilos_back(grams: float, trees: int) -> None:
    assert grams_a_tree(kg_a_task(grams, trees), trees) == pytest.approx(grams)


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: grams_a_tree(1, 0),
        lambda: grams_a_tree(-1, 5),
        lambda: kg_a_hectare(1, 0),
        lambda: kg_a_hectare_year(-1, 400, 150),
        lambda: kg_a_task(-1, 5),
        lambda: summed([]),
        lambda: change(-1, 5),
        lambda: in_range(1, 3, 2),
        lambda: rain_loss(-1, 5),
    ],
)
def test_impossible_yields_are_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(YieldError):
        impossible()


# Projection

FLAT = Shape("flat", (1.0,) * 12, "even", "derived")
PEAKED = Shape("peaked", (1, 0, 0, 1, 2, 3, 3, 3, 4, 5, 6, 4), "peaked", "derived")
START = date(2026, 1, 1)


def test_a_shape_is_in_any_unit() -> None:
    small = Shape("small", (0.01,) * 12, "even", "derived")

    assert share_so_far(small, START, date(2026, 6, 30)) == pytest.approx(share_so_far(FLAT, START, date(2026, 6, 30)))


def test_half_a_year_of_a_flat_season_is_half_the_crop() -> None:
    found = project(500, START, date(2026, 6, 30), [FLAT])

    assert (found.share_percent, found.middle_kg) == pytest.approx((50, 1000))
    assert (found.low_kg, found.high_kg) == pytest.approx((875, 1125))
    assert found.sources == ("even (derived)", "common practice, no source")


def test_several_shapes_widen_the_range() -> None:
    one, both = project(500, START, date(2026, 8, 15), [PEAKED]), project(500, START, date(2026, 8, 15), [PEAKED, FLAT])

    assert both.low_kg < one.low_kg < one.middle_kg == both.middle_kg
    assert one.high_kg == both.high_kg


def test_a_tapping_year_runs_over_new_year() -> None:
    assert share_so_far(FLAT, date(2026, 5, 1), date(2027, 1, 31)) == pytest.approx(9 / 12)
    assert share_so_far(FLAT, date(2024, 2, 29), date(2025, 2, 27)) == 1


@given(st.integers(0, 364), st.integers(0, 364))
def test_the_share_never_falls_and_ends_whole(one: int, other: int) -> None:
    early, late = sorted((one, other))

    shares = [share_so_far(PEAKED, START, START + timedelta(days=days)) for days in (early, late, 364)]

    assert shares == sorted(shares)
    assert shares[2] == 1


@given(st.integers(120, 364), st.floats(1, 1e5), st.floats(0, 100))
def test_the_range_holds_its_middle_and_the_crop_so_far(days: int, so_far: float, spread: float) -> None:
    found = project(so_far, START, START + timedelta(days=days), [PEAKED, FLAT], spread)

    assert so_far <= found.low_kg * (1 + 1e-12)
    assert found.low_kg <= found.middle_kg * (1 + 1e-12)
    assert found.middle_kg <= found.high_kg * (1 + 1e-12)


def test_the_range_closes_at_the_end_of_the_year() -> None:
    found = project(900, START, date(2026, 12, 31), [PEAKED, FLAT])

    assert (found.low_kg, found.high_kg) == pytest.approx((900, 900))


def test_a_farms_own_years_make_a_shape() -> None:
    shape = shape_of(TAPPINGS, "last year")

    assert shape.percent(3) == pytest.approx(100 * 20 / 24)
    assert shape.percent(1) == 0


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: project(5, START, date(2026, 1, 10), [FLAT]),
        lambda: project(5, START, date(2027, 1, 1), [FLAT]),
        lambda: project(5, START, date(2026, 6, 1), []),
        lambda: project(-5, START, date(2026, 6, 1), [FLAT]),
        lambda: project(5, START, date(2026, 6, 1), [FLAT], 101),
        lambda: Shape("short", (1.0,) * 11, "none", "derived"),
        lambda: Shape("empty", (0.0,) * 12, "none", "derived"),
        lambda: shape_of([], "none"),
    ],
)
def test_impossible_projections_are_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ProjectionError):
        impossible()


# Units


def test_a_price_a_pound_is_lower_than_that_a_kilo() -> None:
    assert price_per(Decimal(1070), "lb", "kg") == pytest.approx(Decimal("2358.95"), abs=Decimal("0.01"))


@given(st.sampled_from(list(UNITS)), st.sampled_from(list(UNITS)), st.decimals(0, 10**6, places=3))
def test_there_and_back_again(one: str, other: str, quantity: Decimal) -> None:
    if UNITS[one].kind != UNITS[other].kind:
        with pytest.raises(UnitError, match="measures"):
            convert(quantity, one, other)
        return
    assert convert(convert(quantity, one, other), other, one) == pytest.approx(quantity)


def test_an_unknown_unit_is_refused_with_those_known() -> None:
    with pytest.raises(UnitError, match="known are ha, rai, acre"):
        convert(Decimal(1), "bucket", "L")
