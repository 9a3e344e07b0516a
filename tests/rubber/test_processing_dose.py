"""Water and acid for so much latex."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber import latex
from bot.rubber.coagulation import Acid, Dose, DoseRefused, Setting, dose, setting_time, water_by_volume_rule

litres = st.floats(0.1, 500)
drcs = st.floats(12, 55)
targets = st.floats(12, 20)


@pytest.mark.parametrize(
    ("given_litres", "water_first", "acid_ml", "thinned_in", "dry_kg", "sheets"),
    [
        (18, 20.0, 26, 1.3, 5.8, 12),
        (14, 15.5, 20, 1.0, 4.5, 9),
        (17, 19.0, 24, 1.2, 5.5, 11),
        (22, 24.5, 32, 1.6, 7.1, 14),
    ],
)
def test_the_dose_of_a_usual_day(
    given_litres: float, water_first: float, acid_ml: int, thinned_in: float, dry_kg: float, sheets: int
) -> None:
    found = dose(given_litres)
    assert round(2 * found.water_first_litres) / 2 == water_first
    assert round(found.acid_ml) == acid_ml
    assert round(found.thinning_water_litres, 1) == thinned_in
    assert round(found.dry_kg, 1) == dry_kg
    assert found.sheets == sheets


def test_all_the_water_is_what_goes_first_and_what_thins_the_acid() -> None:
    found = dose(18)
    assert found.water_litres == pytest.approx(found.water_first_litres + found.thinning_water_litres)
    assert found.acid_solution_litres == pytest.approx(found.thinning_water_litres + found.acid_ml / 1000)


@given(litres, drcs, targets)
def test_the_mixture_has_the_target_drc(volume: float, drc: float, target: float) -> None:
    found = dose(volume, drc, target_drc_percent=target, solution_percent=5)
    total_kg = found.latex_kg + 0.996 * found.water_litres
    if found.water_first_litres > 0:
        assert 100 * found.dry_kg / total_kg == pytest.approx(target)
    else:
        assert 100 * found.dry_kg / total_kg <= target * (1 + 1e-9)


@given(litres, st.floats(10, 20), st.floats(0, 8))
def test_latex_no_stronger_than_the_target_gets_no_water_of_its_own(volume: float, target: float, below: float) -> None:
    target = max(target, 12)
    found = dose(volume, max(10.0, target - below), target_drc_percent=target)
    assert found.water_first_litres == 0
    assert found.water_litres == found.thinning_water_litres >= 0
    assert "thin-latex" in found.notes


@given(litres, drcs, st.sampled_from(list(Acid)), st.sampled_from([(85.0, 90.0), (90.0, 98.0), (50.0, 85.0)]))
def test_the_pure_acid_does_not_depend_on_the_bottle(
    volume: float, drc: float, acid: Acid, strengths: tuple[float, float]
) -> None:
    weak, strong = (dose(volume, drc, acid=acid, strength_percent=each) for each in strengths)
    assert weak.pure_acid_g == pytest.approx(strong.pure_acid_g)
    assert weak.acid_ml > strong.acid_ml


@given(litres, drcs, st.floats(1.1, 3))
def test_acid_and_water_go_by_the_dry_rubber(volume: float, drc: float, times: float) -> None:
    small, large = dose(volume, drc), dose(volume * times, drc)
    assert large.pure_acid_g == pytest.approx(times * small.pure_acid_g)
    assert large.water_litres == pytest.approx(times * small.water_litres)
    assert small.pure_acid_g / small.dry_kg == pytest.approx(4.5)


@given(litres, drcs, st.floats(0.01, 8))
def test_setting_sooner_and_ammonia_never_take_less_acid(volume: float, drc: float, ammonia: float) -> None:
    next_day, same_day, quick = (dose(volume, drc, ready=each).pure_acid_g for each in Setting)
    assert next_day <= same_day <= quick
    assert dose(volume, drc, ammonia_g_per_litre=ammonia).pure_acid_g > next_day


@given(litres, drcs, drcs)
def test_dry_weight_rises_with_litres_and_drc_and_stays_below_the_latex(
    volume: float, one: float, other: float
) -> None:
    low, high = sorted((one, other))
    weak, strong = dose(volume, low), dose(volume, high)
    assert weak.dry_kg <= strong.dry_kg < strong.latex_kg
    assert dose(volume + 1, low).dry_kg > weak.dry_kg
    assert weak.dry_kg_low <= weak.dry_kg <= weak.dry_kg_high


def test_latex_that_was_weighed_gives_the_same_dose() -> None:
    assert dose(latex.litres_from_kg(20, 30), 30).dry_kg == pytest.approx(6.0)


def test_without_a_range_the_spread_between_farms_is_shown() -> None:
    found = dose(18)
    assert (round(found.dry_kg_low, 1), round(found.dry_kg_high, 1)) == (5.0, 6.7)


def test_a_given_range_is_kept() -> None:
    found = dose(10, 30, drc_low=29, drc_high=31)
    assert found.dry_kg_low == pytest.approx(latex.dry_kg_from_litres(10, 29))
    assert found.dry_kg_high == pytest.approx(latex.dry_kg_from_litres(10, 31))


def test_a_pan_makes_a_sheet() -> None:
    found = dose(18, pan_litres=4)
    assert found.pans == found.sheets == math.ceil(found.mixture_litres / 4)
    assert found.sheet_dry_kg == pytest.approx(found.dry_kg / found.sheets)


def test_very_little_latex_still_makes_one_sheet() -> None:
    assert dose(0.2).sheets == 1


def test_a_weak_bottle_is_used_as_it_is() -> None:
    found = dose(18, strength_percent=1)
    assert found.thinning_water_litres == 0
    assert found.solution_percent == pytest.approx(1.0006)


def test_a_farm_may_have_its_own_acid_per_kilo() -> None:
    assert dose(18, acid_g_per_kg=6).pure_acid_g == pytest.approx(6 * dose(18).dry_kg)


def test_unusual_latex_is_noted() -> None:
    assert dose(10, 18).notes == ("unusual-drc",)
    assert dose(10, 13).notes == ("thin-latex", "unusual-drc")
    assert dose(10, 33).notes == ()


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"litres": 0}, "litres"),
        ({"litres": -3}, "litres"),
        ({"litres": math.nan}, "litres"),
        ({"litres": math.inf}, "litres"),
        ({"litres": 2001}, "litres"),
        ({"drc_percent": 9.9}, "drc-low"),
        ({"drc_percent": 61}, "drc-high"),
        ({"drc_percent": math.nan}, "drc-low"),
        ({"drc_percent": 120}, "drc-high"),
        ({"drc_low": 34}, "drc-range"),
        ({"drc_high": 32}, "drc-range"),
        ({"strength_percent": 0.5}, "strength"),
        ({"strength_percent": 101}, "strength"),
        ({"strength_percent": math.nan}, "strength"),
        ({"acid": "sulphuric"}, "acid-sulphuric"),
        ({"acid": "Sulfuric acid"}, "acid-sulphuric"),
        ({"acid": "battery acid"}, "acid-sulphuric"),
        ({"acid": "hydrochloric"}, "acid-hydrochloric"),
        ({"acid": "alum"}, "acid-alum"),
        ({"acid": "lemon"}, "acid-unknown"),
        ({"ready": "next week"}, "ready"),
        ({"target_drc_percent": 33}, "target"),
        ({"sheet_dry_kg": 0}, "sheet-weight"),
        ({"solution_percent": 10}, "solution"),
        ({"pan_litres": 0}, "pan"),
        ({"ammonia_g_per_litre": 9}, "ammonia"),
        ({"acid_g_per_kg": 40}, "acid-rate"),
    ],
)
def test_a_dose_outside_sane_bounds_is_refused_with_the_reason(change: dict[str, float | str], key: str) -> None:
    with pytest.raises(DoseRefused) as refused:
        dose(**({"litres": 18.0} | change))  # type: ignore[arg-type]
    assert refused.value.key == key
    assert len(str(refused.value)) > 20


def test_the_volume_rule_is_a_little_above_the_mass_balance() -> None:
    found: Dose = dose(10, 30)
    assert 1.005 < water_by_volume_rule(10, 30, 15) / found.water_litres < 1.02
    assert water_by_volume_rule(10, 14, 15) == 0


@pytest.mark.parametrize("ready", list(Setting))
def test_the_time_to_rolling_is_a_range_with_its_sources(ready: Setting) -> None:
    window = setting_time(ready)
    assert 0 < window.low_hours < window.high_hours <= 24
    assert window.sources
