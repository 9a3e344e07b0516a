"""Density, DRC and dry weight of latex; the hydrometer."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber import latex
from bot.rubber.hydrometer import drc_by_hydrometer, grams_per_litre_undiluted
from bot.rubber.latex import LatexRefused

drcs = st.floats(0, 100)


@given(st.floats(0.1, 99.9))
def test_density_and_drc_are_each_others_inverse(drc: float) -> None:
    assert latex.drc_from_density(latex.density_kg_per_litre(drc)) == pytest.approx(drc, abs=1e-9)


@given(st.floats(0, 99.9))
def test_grams_a_litre_and_drc_are_each_others_inverse(drc: float) -> None:
    assert latex.drc_from_grams_per_litre(latex.grams_per_litre(drc)) == pytest.approx(drc, abs=1e-9)


@given(st.floats(0.1, 1000), st.floats(1, 70))
def test_grams_a_litre_give_the_same_dry_weight_as_percent_with_density_once(litres: float, drc: float) -> None:
    by_percent = latex.dry_kg_from_litres(litres, drc)

    assert litres * latex.grams_per_litre(drc) / 1000 == pytest.approx(by_percent)
    assert latex.dry_kg_from_kg(latex.kg_from_litres(litres, drc), drc) == pytest.approx(by_percent)


@given(st.floats(0.1, 1000), drcs)
def test_litres_and_kilos_are_each_others_inverse(litres: float, drc: float) -> None:
    assert latex.litres_from_kg(latex.kg_from_litres(litres, drc), drc) == pytest.approx(litres)


@given(st.floats(1, 100), st.floats(5, 60), st.floats(0, 100))
def test_water_in_the_cups_thins_but_keeps_the_rubber(litres: float, drc: float, water: float) -> None:
    mixed = latex.drc_of_mixture(litres, drc, water)

    assert mixed <= drc + 1e-9
    total = latex.kg_from_litres(litres, drc) + 0.996 * water
    assert total * mixed / 100 == pytest.approx(latex.dry_kg_from_litres(litres, drc))


def test_test_sheet_from_a_measured_sample_agrees_with_one_from_a_weighed_sample() -> None:
    weighed = 100 * latex.density_kg_per_litre(34)
    dry = weighed * 0.34

    assert latex.drc_by_test_sheet(100, dry) == pytest.approx(latex.drc_by_drying(weighed, dry))


def test_wet_sheet_of_known_moisture() -> None:
    assert latex.drc_by_wet_sheet(100, 50, 30) == pytest.approx(35)


def test_solids_are_above_the_drc() -> None:
    middle, low, high = latex.drc_from_total_solids(38)

    assert low < middle < high < 38
    assert latex.drc_from_total_solids(1) == (0, 0, 0)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: latex.density_kg_per_litre(-1),
        lambda: latex.density_kg_per_litre(101),
        lambda: latex.density_kg_per_litre(math.nan),
        lambda: latex.drc_from_density(1.1),
        lambda: latex.dry_kg_from_litres(-1, 33),
        lambda: latex.dry_kg_from_litres(math.inf, 33),
        lambda: latex.dry_kg_from_kg(math.nan, 33),
        lambda: latex.drc_from_grams_per_litre(950),
        lambda: latex.drc_of_mixture(0, 33, 1),
        lambda: latex.drc_by_drying(0, 0),
        lambda: latex.drc_by_drying(10, 11),
        lambda: latex.drc_by_test_sheet(0, 1),
        lambda: latex.drc_by_wet_sheet(10, 5, 120),
        lambda: grams_per_litre_undiluted(-1),
        lambda: grams_per_litre_undiluted(100, 0.2),
        lambda: drc_by_hydrometer(300, 2),
        lambda: drc_by_hydrometer(10, 2, 60),
    ],
)
def test_what_no_latex_can_be_is_refused(wrong: object) -> None:
    with pytest.raises(LatexRefused):
        wrong()  # type: ignore[operator]


@given(st.floats(60, 150), st.floats(1, 3), st.floats(20, 38))
def test_a_hydrometer_range_holds_its_middle_and_is_wide(reading: float, parts: float, celsius: float) -> None:
    try:
        found = drc_by_hydrometer(reading, parts, celsius)
    except LatexRefused:
        return
    assert found.low < found.percent < found.high
    assert found.spread_points > 0.02 * found.percent


@given(st.floats(60, 140), st.floats(60, 140))
def test_a_higher_reading_is_richer_latex(one: float, other: float) -> None:
    low, high = sorted((one, other))

    assert drc_by_hydrometer(low).percent <= drc_by_hydrometer(high).percent


def test_warm_latex_reads_as_richer_than_it_is() -> None:
    assert drc_by_hydrometer(115, celsius=33).percent < drc_by_hydrometer(115, celsius=29).percent


def test_less_water_makes_the_temperature_matter_less() -> None:
    def fall(parts: float) -> float:
        reading = 345 / (1 + parts)
        return drc_by_hydrometer(reading, parts, 29).percent - drc_by_hydrometer(reading, parts, 31).percent

    assert 0 < fall(1) < fall(2)
