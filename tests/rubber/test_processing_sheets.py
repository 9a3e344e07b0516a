"""Sheets, drying, lump."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber import drying, lump, sheets
from bot.rubber.drying import Method
from bot.rubber.lump import Verdict
from bot.rubber.sheets import SheetRefused

moistures = st.floats(0, 95)
methods = st.sampled_from(list(Method))


@given(moistures)
def test_wet_and_dry_basis_are_each_others_inverse(percent: float) -> None:
    assert sheets.wet_basis(sheets.dry_basis(percent)) == pytest.approx(percent, abs=1e-9)


def test_thirty_percent_wet_basis_is_not_thirty_percent_dry_basis() -> None:
    assert sheets.dry_basis(30) == pytest.approx(42.857, abs=0.001)


@given(st.floats(0.1, 100), moistures, moistures)
def test_drying_keeps_the_rubber(kg: float, before: float, after: float) -> None:
    then = sheets.weight_at(kg, before, after)

    assert then * (100 - after) == pytest.approx(kg * (100 - before))


@given(st.floats(0.1, 100), st.floats(0.01, 95))
def test_moisture_from_weights_turns_the_weight_round(wet: float, percent: float) -> None:
    assert sheets.moisture_from_weights(wet, sheets.weight_at(wet, percent)) == pytest.approx(percent, abs=1e-9)


def test_dry_weight_of_wet_sheets_is_a_range() -> None:
    found = sheets.dry_weight(10)

    assert found.low_kg < found.kg < found.high_kg < 10
    assert found.moisture_percent == 30


@pytest.mark.parametrize(("dry_kg", "number"), [(0, 0), (0.1, 1), (5.83, 12), (5.74, 11), (5.75, 12), (6, 12)])
def test_sheets_are_whole(dry_kg: float, number: int) -> None:
    assert sheets.sheets_from(dry_kg, 0.5) == number


def test_two_smooth_passes_or_three_and_one_with_a_pattern() -> None:
    found = sheets.rolling()

    assert (found.smooth_passes_low, found.smooth_passes_high, found.pattern_passes) == (2, 3, 1)
    assert found.sources


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: sheets.sheets_from(1, 0),
        lambda: sheets.thickness_mm(1, 0, 40),
        lambda: sheets.wet_basis(-1),
        lambda: sheets.dry_basis(100),
        lambda: sheets.moisture_from_weights(1, 2),
        lambda: sheets.moisture_from_weights(0, 0),
        lambda: sheets.weight_at(1, 120),
        lambda: sheets.dry_weight(float("nan")),
        lambda: drying.moisture_left(Method.SUN, -1),
        lambda: drying.moisture_left(Method.SUN, 1, start_percent=100),
        lambda: drying.sold_early(0, 5),
        lambda: drying.sold_early(1, 100),
    ],
)
def test_what_no_sheet_can_be_is_refused(wrong: object) -> None:
    with pytest.raises(SheetRefused):
        wrong()  # type: ignore[operator]


@given(methods, st.integers(0, 10))
def test_rain_never_shortens_drying(method: Method, rain: int) -> None:
    dry, wet = drying.drying_time(method), drying.drying_time(method, rain)

    assert dry.low_days <= dry.usual_days <= dry.high_days
    assert (wet.low_days, wet.high_days) >= (dry.low_days, dry.high_days)


def test_rain_stops_the_sun_and_not_the_smoke() -> None:
    assert drying.drying_time(Method.SUN, 2).usual_days == drying.drying_time(Method.SUN).usual_days + 2
    assert drying.drying_time(Method.SMOKE, 2) == drying.drying_time(Method.SMOKE)


def test_ready_days_of_a_batch() -> None:
    found = drying.ready(date(2026, 3, 9), Method.SMOKE)

    assert (found.soonest, found.usual, found.latest) == (date(2026, 3, 12), date(2026, 3, 14), date(2026, 3, 16))


def test_rain_half_a_day_counts_as_a_day() -> None:
    assert drying.ready(date(2026, 3, 9), Method.SOLAR, 1).usual == date(2026, 3, 16)


@given(methods, st.floats(0, 30), st.floats(0, 5))
def test_moisture_only_falls(method: Method, days: float, more: float) -> None:
    now, later = drying.moisture_left(method, days), drying.moisture_left(method, days + more)

    assert now.low <= now.usual <= now.high <= 30 + 1e-9
    assert later.usual <= now.usual


@pytest.mark.parametrize("method", list(Method))
def test_moisture_is_half_a_percent_on_the_last_day(method: Method) -> None:
    time = drying.drying_time(method)

    assert drying.moisture_left(method, 0).usual == pytest.approx(30)
    assert drying.moisture_left(method, time.usual_days).usual == pytest.approx(0.5)
    assert drying.moisture_left(method, time.high_days).high == pytest.approx(0.5)


def test_a_wet_day_in_the_sun_dries_nothing() -> None:
    assert drying.moisture_left(Method.SUN, 3, rain_days=3).usual == pytest.approx(30)


def test_a_sheet_already_dry_stays_as_it_is() -> None:
    assert drying.moisture_left(Method.SUN, 3, start_percent=0.3).usual == pytest.approx(0.3)


def test_selling_early_takes_off_the_water_above_what_is_allowed() -> None:
    found = drying.sold_early(100, 10, allowed_percent=1.5)

    assert found.rebased_kg == pytest.approx(90 / 0.985)
    assert found.deducted_kg == pytest.approx(100 - 90 / 0.985)
    assert found.deducted_percent == pytest.approx(found.deducted_kg)


def test_dry_sheets_lose_nothing() -> None:
    assert drying.sold_early(100, 0.5).deducted_kg == 0


def test_negative_rain_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        drying.drying_time(Method.SUN, -1)


@given(st.floats(0, 40), st.floats(0, 40))
def test_lump_only_dries_with_age(one: float, other: float) -> None:
    young, old = (lump.dry_content(age) for age in sorted((one, other)))

    assert young.percent <= old.percent + 1e-9
    assert 0 < young.low < young.percent < young.high < 100


def test_lump_older_than_the_figures_says_so() -> None:
    assert lump.dry_content(16).aged_out
    assert not lump.dry_content(15).aged_out


def test_dry_kilos_of_lump() -> None:
    middle, low, high = lump.dry_kg(10, 3)

    assert low < middle < high
    assert middle == pytest.approx(lump.dry_content(3).percent / 10)


@pytest.mark.parametrize(("latex_kg", "lump_kg", "verdict"), [(95, 5, "low"), (80, 20, "usual"), (60, 40, "high")])
def test_share_of_lump_out_of_range(latex_kg: float, lump_kg: float, verdict: str) -> None:
    found = lump.share_of_crop(latex_kg, lump_kg)

    assert found is not None
    assert found.verdict is Verdict(verdict)


def test_no_crop_has_no_share() -> None:
    assert lump.share_of_crop(0, 0) is None


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: lump.dry_content(-1),
        lambda: lump.dry_matter(1, 101),
        lambda: lump.dry_matter(-1, 50),
        lambda: lump.share_of_crop(-1, 2),
    ],
)
def test_what_no_lump_can_be_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        wrong()  # type: ignore[operator]
